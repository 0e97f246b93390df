"""The shape that an outline suggests: how a clump would bulge if it were blown up."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from eyefind.data import Mask

Floats = NDArray[np.float64]


def round_normals(mask: Mask) -> Floats:
    """Return the normals of the rounded body that fills an outline.

    At the outline a smooth body turns away from the camera, so that its normal there
    is known (Ikeuchi & Horn, Artificial Intelligence 17:141-184, 1981). Inside, the
    height h is that of Poisson's equation, ``laplace(h ** 2) = -4`` with 0 along the
    outline: exactly the half sphere for a circle, and rounded for any other outline.

    Parameters
    ----------
    mask : (H, W) bool array
        The body.

    Returns
    -------
    (H, W, 3) float64 array
        Unit normals (row, col, up) inside; zero outside.
    """
    padded = np.pad(mask, 1)
    square = _height_squared(padded)
    down, right = np.gradient(square)
    normal = np.dstack([-down, -right, 2 * np.sqrt(square)])
    length = np.linalg.norm(normal, axis=2, keepdims=True)
    normal /= np.where(length > 0, length, 1.0)
    normal[~padded] = 0.0
    return np.asarray(normal[1:-1, 1:-1])


def _height_squared(mask: Mask) -> Floats:
    """Solve Poisson's equation in a mask that does not touch the picture's edge."""
    places = np.flatnonzero(mask)
    number = np.full(mask.size, -1)
    number[places] = np.arange(len(places))
    rows, cols = [np.arange(len(places))], [np.arange(len(places))]
    values = [np.full(len(places), 4.0)]
    for step in (-1, 1, -mask.shape[1], mask.shape[1]):
        beside = number[places + step]
        inside = np.flatnonzero(beside >= 0)
        rows.append(inside)
        cols.append(beside[inside])
        values.append(np.full(len(inside), -1.0))
    entries = np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))
    square = np.zeros(mask.size)
    square[places] = spsolve(coo_matrix(entries).tocsc(), np.full(len(places), 4.0))
    return square.reshape(mask.shape)
