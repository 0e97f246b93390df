"""The scale options: two points and their distance, or the clump's width."""

import numpy as np

from eyefind.errors import UsageError
from eyefind.job import TwoPoints, TypedWidth


def read_ruler(
    points: str | None, length_mm: float | None, width_mm: float | None
) -> TwoPoints | TypedWidth | None:
    """Read the scale options.

    Parameters
    ----------
    points : str or None
        ``"ROW,COL,ROW,COL"`` in px of the full upright photo.
    length_mm : float or None
        Distance of the two points.
    width_mm : float or None
        Longest side of the clump.

    Returns
    -------
    TwoPoints, TypedWidth or None
        What the grower said, None for nothing.

    Raises
    ------
    UsageError
        If the options do not go together or make no sense.
    """
    if (points is None) != (length_mm is None):
        raise UsageError(
            "--points and --length belong together.",
            "For example: --points 310,420,310,1230 --length 100",
        )
    if points is not None and width_mm is not None:
        raise UsageError(
            "Both two points and a width are given.", "Give only one of them."
        )
    for name, value in (("--length", length_mm), ("--width", width_mm)):
        if value is not None and not 0 < value < np.inf:
            raise UsageError(f"{name} {value:g} makes no sense.", "Give it in mm.")
    if width_mm is not None:
        return TypedWidth(width_mm)
    if points is None or length_mm is None:
        return None
    row_a, col_a, row_b, col_b = read_numbers(points, 4, "--points", "310,420,310,1230")
    a_rc, b_rc = np.array([row_a, col_a]), np.array([row_b, col_b])
    if np.array_equal(a_rc, b_rc):
        raise UsageError("The two --points are one and the same.", "Give two.")
    return TwoPoints(a_rc, b_rc, length_mm)


def read_numbers(text: str, count: int, option: str, example: str) -> list[float]:
    """Read `count` numbers that are set apart by commas.

    Parameters
    ----------
    text : str
        What was typed.
    count : int
        How many there must be.
    option, example : str
        For the message.

    Returns
    -------
    list of float
        The numbers.

    Raises
    ------
    UsageError
        If there are more, fewer or no numbers.
    """
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) != count or not np.isfinite(numbers).all():
        raise UsageError(
            f"{option} '{text}' is not {count} numbers.",
            f"Write for example: {option} {example}",
        )
    return numbers
