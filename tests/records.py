"""Records for the tests: one of the painted clump, and any that hypothesis draws."""

from functools import cache

import numpy as np
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from painted import painted_clump

from eyefind.data import (
    Anatomy,
    Cut,
    Decision,
    Discard,
    Flag,
    PhotoFacts,
    Piece,
    Plan,
    Record,
    Remark,
    Scale,
    Side,
    Stem,
    Tuber,
)

SHA = "ab" * 32


the_painted_clump = cache(painted_clump)


def painted_record(file: str = "clump 7.jpg", sha256: str = SHA) -> Record:
    """Record of a painted clump with four eyes, a parent and a side tuber."""
    painted = the_painted_clump()
    photo = PhotoFacts(file, sha256, *painted.rgb.shape[:2], "2025-11-02T10:15:00")
    remark = Remark("no-card", "No card in view.", "Lay the card beside the clump.")
    return Record(photo, painted.scale, [remark], painted.anatomy, list(painted.flags))


def decision(flag: str, says: str) -> Decision:
    """A word at a fixed time."""
    return Decision("2025-11-02T10:20:00.000+01:00", flag, says, "Ida")


texts = st.text(st.characters(codec="utf-8"), max_size=12)
px = st.floats(-1e5, 1e5)
size = st.floats(0, 1e5)
chance = st.floats(0, 1)
points = st.integers(0, 5).flatmap(lambda n: arrays(float, (n, 2), elements=px))
place = arrays(float, (2,), elements=px)
widths = arrays(float, st.integers(1, 5), elements=size)
ids = st.sampled_from(["E1", "E2", "F1", "G1", "T1", "S1"])
names = st.lists(ids, max_size=3)


def many(strategy):
    return st.lists(strategy, max_size=3)


flags = st.builds(
    Flag,
    ids,
    row_px=px,
    col_px=px,
    size_mm=size,
    likelihood=chance,
    reasons=st.lists(texts, max_size=2),
    belongs_to=st.none() | ids,
    outline_px=st.none() | points,
)
places = st.tuples(*[st.floats(0, 1e5).map(lambda place: round(place, 1))] * 4)
sides = st.builds(Side, texts, texts, texts, st.lists(places, max_size=2))
decisions = st.builds(Decision, texts, ids, by=texts, side=st.none() | sides)
stems = st.builds(Stem, ids, points, points, size)
tubers = st.builds(
    Tuber, ids, points, points, widths, place, size, size, size, size, chance, ids
)
plans = st.builds(
    Plan,
    pieces=many(
        st.builds(
            Piece, texts, names, names, names, st.integers(0, 9), chance, points, size
        )
    ),
    cuts=many(st.builds(Cut, st.integers(1, 99), texts, points, why=texts)),
    discards=many(st.builds(Discard, texts, texts, ids, points)),
    warnings=st.lists(texts, max_size=2),
)
records = st.builds(
    Record,
    st.builds(
        PhotoFacts,
        texts,
        texts,
        st.integers(1, 10**5),
        st.integers(1, 10**5),
        st.none() | texts,
    ),
    st.builds(Scale, px_per_mm=st.floats(0.01, 100), relative_sd=st.floats(0, 10)),
    many(st.builds(Remark, texts, texts, texts)),
    st.builds(Anatomy, points, points, many(stems), many(tubers)),
    many(flags),
    many(decisions),
    st.none() | plans,
)


def assert_alike(one: object, other: object, rounding: bool = True) -> None:
    """Compare dataclasses with arrays: to 0.1 and four digits, or exactly."""
    if hasattr(one, "__dataclass_fields__"):
        assert type(one) is type(other)
        for name in one.__dataclass_fields__:
            assert_alike(getattr(one, name), getattr(other, name), rounding)
    elif isinstance(one, list):
        assert len(one) == len(other)
        for left, right in zip(one, other, strict=True):
            assert_alike(left, right, rounding)
    elif isinstance(one, np.ndarray):
        assert one.shape == other.shape
        np.testing.assert_allclose(other, one, rtol=0, atol=0.051 * rounding)
    elif isinstance(one, float):
        assert abs(other - one) <= rounding * max(0.051, 6e-4 * abs(one))
    else:
        assert one == other
