"""Labels lie inside the picture and off what must stay free, where there is room."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point

from eyefind.sheet.labels import EYE_WEIGHT, Places

SIZE = np.array([1000.0, 800.0])
places_ = st.tuples(st.floats(0, 1000), st.floats(0, 800)).map(np.array)


def overlap(one, other):
    low = np.maximum(one[0] - one[1] / 2, other[0] - other[1] / 2)
    high = np.minimum(one[0] + one[1] / 2, other[0] + other[1] / 2)
    return float(np.prod(np.clip(high - low, 0, None)))


@given(places_, st.lists(places_, max_size=6))
def test_a_label_is_wholly_in_the_picture_and_off_the_eyes(anchor, eyes):
    places = Places(SIZE)
    for eye in eyes:
        places.keep_clear(eye, 25.0, EYE_WEIGHT)
    box = np.array([80.0, 60.0])
    centre = places.choose(anchor, box)
    assert (centre - box / 2 >= 0).all()
    assert (centre + box / 2 <= SIZE).all()
    # Six eyes cannot fill the picture: some free place always lies near enough.
    assert sum(overlap((centre, box), (eye, np.full(2, 50.0))) for eye in eyes) == 0


@given(st.lists(places_, min_size=2, max_size=8))
def test_labels_do_not_cover_each_other(anchors):
    places = Places(SIZE)
    box = np.array([80.0, 60.0])
    centres = [places.choose(anchor, box) for anchor in anchors]
    for number, one in enumerate(centres):
        for other in centres[:number]:
            assert overlap((one, box), (other, box)) == 0


@given(places_, st.floats(50, 120))
def test_a_label_keeps_the_room_for_its_arrow(anchor, least):
    centre = Places(SIZE).choose(anchor, np.array([40.0, 40.0]), least=least)
    assert np.hypot(*(centre - anchor)) >= 0.95 * least


def test_the_side_ahead_is_liked_best():
    places, anchor = Places(SIZE), np.array([500.0, 400.0])
    ahead = np.array([0.0, -1.0])
    centre = places.choose(anchor, np.array([40.0, 40.0]), ahead=ahead, least=60)
    np.testing.assert_allclose(centre, [500.0, 340.0], atol=1)


def test_a_region_keeps_its_label_inside():
    own = Point(300, 300).buffer(120)
    places = Places(SIZE)
    places.keep_clear(np.array([300.0, 300.0]), 30.0, EYE_WEIGHT)
    box = np.array([60.0, 60.0])
    centre = places.choose(np.array([300.0, 300.0]), box, own)
    assert own.contains(Point(centre))
    assert overlap((centre, box), (np.array([300.0, 300.0]), np.full(2, 60.0))) == 0


def test_nothing_is_written_on_what_is_too_small():
    box = np.array([60.0, 30.0])
    small, large = Point(300, 300).buffer(10), Point(300, 300).buffer(90)
    assert Places(SIZE).fit(np.array([300.0, 300.0]), box, small) is None
    assert Places(SIZE).fit(np.array([300.0, 300.0]), box, large) is not None
