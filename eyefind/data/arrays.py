"""The arrays that the types hold."""

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
"""(N, 2) float64 array of (row, col) px."""
Mask = NDArray[np.bool_]
"""(H, W) bool array."""
Pixels = NDArray[np.uint8]
"""(H, W, 3) uint8 array, sRGB."""
