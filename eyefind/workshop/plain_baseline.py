"""What plain scikit-image parts reach: the yardstick below ours.

CIELAB lightness, adaptive histogram equalisation, blobs by the Laplacian of Gaussian
on the clump's mask, at our working scale. No anatomy, no weighing.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_laplace
from skimage.color import rgb2lab
from skimage.exposure import equalize_adapthist
from skimage.feature import blob_log
from skimage.transform import resize

from eyefind.data import Mask, Pixels, Points

PLAIN_PX_PER_MM = 4.0
"""Scale at which our own blob filters work, too."""
EYE_SIGMAS_MM = (0.45, 2.0)
"""Blobs of 1.3 to 5.7 mm."""
LEAST_ANSWER = 0.02
"""Weakest answer kept, of a lightness of 0 to 1."""


def plain_blobs(
    rgb: Pixels, clump: Mask, px_per_mm: float
) -> tuple[Points, NDArray[np.float64]]:
    """Find blobs with plain scikit-image parts.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    clump : (H, W) bool array
        The clump.
    px_per_mm : float
        Scale.

    Returns
    -------
    place_rc : (N, 2) array
        Places in px of the photo, the strongest first.
    answer : (N,) array
        Answer of the filter, falling.
    """
    step = min(1.0, PLAIN_PX_PER_MM / px_per_mm)
    shape = [max(1, round(side * step)) for side in clump.shape]
    small = resize(rgb, shape, anti_aliasing=True)
    inside = resize(clump.astype(float), shape) >= 0.5
    light = equalize_adapthist(rgb2lab(small)[..., 0] / 100.0)
    light = np.where(inside, light, np.median(light[inside]) if inside.any() else 0.5)
    low, high = (mm * px_per_mm * step for mm in EYE_SIGMAS_MM)
    blobs = blob_log(light, low, high, num_sigma=6, threshold=LEAST_ANSWER)
    rows, cols = blobs[:, 0].astype(int), blobs[:, 1].astype(int)
    blobs = blobs[inside[rows, cols]]
    answer = _answers(light, blobs)
    order = np.argsort(-answer, kind="stable")
    return (blobs[order, :2] + 0.5) / step - 0.5, answer[order]


def _answers(
    light: NDArray[np.float64], blobs: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Answer of the filter at each blob, which blob_log does not hand out."""
    answer = np.zeros(len(blobs))
    for sigma in np.unique(blobs[:, 2]):
        at = blobs[:, 2] == sigma
        plane = -(sigma**2) * gaussian_laplace(light, sigma)
        answer[at] = plane[blobs[at, 0].astype(int), blobs[at, 1].astype(int)]
    return answer
