"""Invented clumps, seen from one side and again after they were turned or flipped."""

from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st
from plan.clumps import CENTRE, gather, make_crown, make_stem, make_tuber, on_rim

from eyefind.data import Anatomy, Flag

RIM_MM = 26.0


@dataclass(frozen=True, eq=False)
class TwoSides:
    """One clump on two photos.

    Attributes
    ----------
    main, side : Anatomy
        The photos; tubers are numbered clockwise on each.
    pairs : dict of str to str
        Which tuber of the first is which of the second.
    flipped : bool
        Whether the clump was flipped over between them.
    """

    main: Anatomy
    side: Anatomy
    pairs: dict[str, str]
    flipped: bool


def seen(
    turns: np.ndarray, sizes: np.ndarray, flags: list[Flag] | None = None
) -> tuple[Anatomy, list[int]]:
    """Return an anatomy, and which tuber its T1, T2 ... are."""
    order = [int(k) for k in np.argsort(turns % 360)]
    tubers = [
        make_tuber(
            f"T{number}",
            on_rim(float(turns[k]), RIM_MM, RIM_MM, 0.97),
            float(turns[k]),
            "crown",
            *(float(size) for size in sizes[k]),
        )
        for number, k in enumerate(order, 1)
    ]
    stem = make_stem("S1", CENTRE - np.array([60.0, 0.0]))
    clump = gather(make_crown(RIM_MM, RIM_MM), [stem], tubers, flags or [])
    return clump.anatomy, order


def two_sides(
    rng: np.random.Generator,
    count: int,
    flipped: bool,
    turn: float,
    hidden: int = 0,
    noise: float = 1.0,
) -> TwoSides:
    """Return an invented clump on two photos.

    Parameters
    ----------
    rng : Generator
        Draws sizes and noise.
    count : int
        Tubers.
    flipped : bool
        Whether the second photo is of the clump flipped over.
    turn : float
        By how much it was turned besides, degrees.
    hidden : int
        Tubers that the second photo does not show.
    noise : float
        1: bearings off by 5 degrees, lengths by 8 %, thickness by 5 %, necks by 10 %
        (standard deviations). Invented, not measured.
    """
    gaps = 0.6 + rng.random(count)
    turns = np.cumsum(360 * gaps / gaps.sum())
    sizes = np.column_stack(
        [
            rng.uniform(50, 130, count),
            rng.uniform(4, 9, count),
            rng.uniform(15, 40, count),
        ]
    )
    main, order = seen(turns, sizes)
    spread = noise * np.array([0.08, 0.10, 0.05])
    others = sizes * np.exp(spread * rng.standard_normal(sizes.shape))
    there = (-turns if flipped else turns) + turn
    there = there + 5.0 * noise * rng.standard_normal(count)
    shown = np.sort(rng.choice(count, count - hidden, replace=False))
    side, side_order = seen(there[shown], others[shown])
    name_there = {int(shown[k]): f"T{n}" for n, k in enumerate(side_order, 1)}
    pairs = {f"T{n}": name_there[k] for n, k in enumerate(order, 1) if k in name_there}
    return TwoSides(main, side, pairs, flipped)


@st.composite
def drawn_sides(draw, noise: float, hidden: int = 0) -> TwoSides:
    """Any two sides."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count = draw(st.integers(4, 12))
    flipped, turn = draw(st.booleans()), draw(st.floats(0, 360))
    return two_sides(rng, count, flipped, turn, hidden, noise)
