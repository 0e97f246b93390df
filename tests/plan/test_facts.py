"""Plans against published facts of the trade."""

import pytest
from painted import painted_clump
from shapely import Point

from eyefind.plan import make_plan
from eyefind.plan.shapes import polygon
from eyefind.rules import load_rules

RULES = load_rules()


@pytest.fixture(scope="module")
def painted():
    return painted_clump(7)


@pytest.fixture(scope="module")
def plan(painted):
    said = {flag.id: "confirmed" for flag in painted.flags}
    return make_plan(
        painted.anatomy, painted.flags, said, painted.scale, "singles", RULES
    )


def test_a_division_has_an_eye_crown_an_unbroken_neck_and_a_body(painted, plan):
    """Minnesota Dahlia Society, digging post; Dahlia Society of California, Dec 2024.

    The least that grows is an eye with a piece of crown, an unbroken neck and a body.
    """
    crown = polygon(painted.anatomy.crown_outline_px)
    tubers = {tuber.id: tuber for tuber in painted.anatomy.tubers}
    assert len(plan.pieces) == 6
    for piece in plan.pieces:
        outline = polygon(piece.outline_px)
        assert piece.confirmed_eyes >= 1
        assert outline.intersection(crown).area > (3.0 * painted.scale.px_per_mm) ** 2
        for name in piece.tubers:
            tuber = tubers[name]
            assert outline.buffer(1.0).covers(Point(tuber.neck_rc_px))
            own = polygon(tuber.outline_px)
            assert outline.intersection(own).area > 0.98 * own.area
    for piece in plan.pieces:
        for name in piece.eyes:
            flag = next(f for f in painted.flags if f.id == name)
            assert polygon(piece.outline_px).covers(Point(flag.row_px, flag.col_px))


def test_the_stub_lies_within_what_sources_span():
    """Rochester Dahlia Society 50-75 mm; Ask Extension 427061 50 mm; 25 to 150 mm."""
    rule = RULES["stem_stub_mm"]
    assert (rule.low, rule.high) == (25.0, 150.0)
    assert 50.0 <= rule.value <= 75.0


def test_a_tuber_on_a_tuber_is_discarded(plan):
    """Minnesota Dahlia Society: a tuber grown from another tuber has no eye."""
    discard = next(d for d in plan.discards if d.belongs_to == "T8")
    assert "carries no eye" in discard.why
    assert all("T8" not in piece.tubers for piece in plan.pieces)


def test_the_parent_is_removed(plan):
    """Minnesota Dahlia Society, digging post: remove the mother tuber."""
    assert "T7" in {discard.belongs_to for discard in plan.discards}


def test_no_eye_seen_is_not_no_eye():
    """Konishi and Inaba 1967: buds rest until mid-December, so look again in spring.

    J. Jap. Soc. Hort. Sci. 36(1):131-140.
    """
    painted = painted_clump(4, parent=False, side_tuber=False)
    plan = make_plan(painted.anatomy, [], {}, painted.scale, "singles", RULES)
    assert [len(piece.tubers) for piece in plan.pieces] == [4]
    assert "no eye confirmed: keep it and look again in spring" in plan.pieces[0].note


def test_halves_before_quarters_before_singles(plan):
    """Common practice, no source."""
    splits = [cut for cut in plan.cuts if cut.purpose.startswith(("halve", "split"))]
    assert splits[0].purpose == "halve the crown"
    names = [len(cut.why.removeprefix("Parts ").split(" from ")) for cut in splits]
    assert names == [2] * len(splits)
