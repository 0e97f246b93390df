"""The eye finder built from plain scikit-image parts: the yardstick below ours.

The same steps as ours, each by one stock function: the crown as the middle of the
clump's skeleton, eyes as bright blobs around it (Laplacian of Gaussian on equalised
CIELAB lightness), ranked by the filter's answer. Nothing is learned or weighed. It gets
the clump that our network made out: Otsu's threshold does not tell one from a bench
with a pattern, and to be ahead of a finder that looks at the bench would mean little.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_laplace
from skimage.color import rgb2lab
from skimage.exposure import equalize_adapthist
from skimage.feature import blob_log
from skimage.graph import central_pixel, pixel_graph
from skimage.measure import label
from skimage.morphology import skeletonize
from skimage.transform import resize

from eyefind.data import Mask, Pixels, Points

PLAIN_PX_PER_MM = 4.0
"""Scale at which our own blob filters work, too."""
SKELETON_PX_PER_MM = 1.0
"""Scale of the skeleton: it then has no twigs that only follow the outline's grain."""
CROWN_REACH_MM = 40.0
"""Eyes are looked for so near the crown's middle: half a large crown, from memory."""
EYE_SIGMAS_MM = (0.45, 2.0)
"""Blobs of 1.3 to 5.7 mm."""
LEAST_ANSWER = 0.02
"""Weakest answer kept, of a lightness of 0 to 1."""

Floats = NDArray[np.float64]


def plain_eyes(rgb: Pixels, clump: Mask, px_per_mm: float) -> tuple[Points, Floats]:
    """Find eyes with plain scikit-image parts.

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
    middle = crown_middle(clump, px_per_mm)
    if middle is None:
        return np.zeros((0, 2)), np.zeros(0)
    reach = CROWN_REACH_MM * px_per_mm
    corner = np.maximum(middle - reach, 0).astype(int)
    end = (middle + reach + 1).astype(int)
    window = tuple(map(slice, corner, end))
    step = min(1.0, PLAIN_PX_PER_MM / px_per_mm)
    light = equalize_adapthist(rgb2lab(_scaled(rgb[window], step))[..., 0] / 100.0)
    low, high = (mm * px_per_mm * step for mm in EYE_SIGMAS_MM)
    blobs = blob_log(light, low, high, num_sigma=6, threshold=LEAST_ANSWER)
    place_rc = corner + (blobs[:, :2] + 0.5) / step - 0.5
    on_clump = clump[tuple(place_rc.astype(int).T)]
    near = np.linalg.norm(place_rc - middle, axis=1) <= reach
    answer = _answers(light, blobs)
    order = np.argsort(-answer, kind="stable")
    order = order[(on_clump & near)[order]]
    return place_rc[order], answer[order]


def crown_middle(clump: Mask, px_per_mm: float) -> Points | None:
    """Find the middle of the crown: the central pixel of the clump's skeleton.

    Tubers branch off the crown, so the ways from it to all the skeleton are shortest.

    Parameters
    ----------
    clump : (H, W) bool array
        The clump; its largest piece counts.
    px_per_mm : float
        Scale.

    Returns
    -------
    (2,) array or None
        (row, col) px; None without a clump.
    """
    step = min(1.0, SKELETON_PX_PER_MM / px_per_mm)
    pieces = label(_scaled(clump.astype(float), step) >= 0.5)
    sizes = np.bincount(pieces.ravel())[1:]
    if not len(sizes):
        return None
    skeleton = skeletonize(pieces == 1 + np.argmax(sizes))
    graph, nodes = pixel_graph(skeleton, connectivity=2)
    middle, _ = central_pixel(graph, nodes, skeleton.shape)
    return np.asarray((np.array(middle) + 0.5) / step - 0.5)


def _scaled(picture: NDArray[np.generic], step: float) -> Floats:
    shape = [max(1, round(side * step)) for side in picture.shape[:2]]
    return np.asarray(resize(picture, shape, anti_aliasing=True))


def _answers(light: Floats, blobs: Floats) -> Floats:
    """Answer of the filter at each blob, which blob_log does not hand out."""
    answer = np.zeros(len(blobs))
    for sigma in np.unique(blobs[:, 2]):
        at = blobs[:, 2] == sigma
        plane = -(sigma**2) * gaussian_laplace(light, sigma)
        answer[at] = plane[blobs[at, 0].astype(int), blobs[at, 1].astype(int)]
    return answer
