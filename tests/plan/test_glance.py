"""A glance at many hubs: it sees what strokes that are drawn show."""

import numpy as np
import pytest
from plan.clumps import PPM, round_clump, two_stemmed
from shapely import Point

from eyefind.plan.costs import Costs
from eyefind.plan.division import Part, Unit
from eyefind.plan.fan import Fan
from eyefind.plan.glance import Glance
from eyefind.plan.guard import Guard
from eyefind.plan.parts import make_body
from eyefind.plan.shapes import clockwise_ring, polygon
from eyefind.plan.standing import Eye
from eyefind.plan.worth import NOTHING
from eyefind.rules import load_rules

RULES = load_rules()


def fan_of(clump) -> Fan:
    """The strokes into a clump without stems, an eye a tuber."""
    core = clockwise_ring(polygon(clump.anatomy.crown_outline_px))
    bodies = [
        make_body(t.id, "crown", polygon(t.outline_px), core, PPM, t)
        for t in clump.anatomy.tubers
    ]
    eyes = [
        Eye(f.id, Point(f.row_px, f.col_px), 4.5 * PPM, 1.0, True, f.belongs_to)
        for f in clump.flags
    ]
    units = [
        Unit([body.id], body.shape, Point(body.axis.coords[0]), NOTHING, 0.0)
        for body in bodies
    ]
    blocked = Guard(bodies, eyes, PPM).blocked(core, PPM)
    return Fan(Part(core, units, eyes, []), blocked, Costs(RULES, PPM, 24.0), 1.0)


def open_gaps(fan, hub) -> int:
    star = fan.star(hub)
    return 0 if star is None else sum(bool(units) for units in star.units)


CLUMPS = {
    "three": round_clump([60, 180, 300]),
    "seven, uneven": round_clump([0, 40, 95, 130, 185, 250, 300], 22, 34),
    "eight, tight": round_clump([0, 40, 85, 130, 185, 220, 265, 310], 18, 26),
    "wide": two_stemmed(),
}


@pytest.mark.parametrize("name", CLUMPS)
def test_the_first_hub_opens_as_many_gaps_as_any(name):
    fan = fan_of(CLUMPS[name])
    hubs = fan.hubs(2.0 * PPM)
    best = max(open_gaps(fan, hub) for hub in hubs)
    assert best >= 2
    chosen = Glance(fan).promising(hubs, 8)
    assert max(open_gaps(fan, hub) for hub in chosen) == best


def test_hubs_that_open_no_two_gaps_are_not_chosen():
    fan = fan_of(round_clump([90]))
    assert len(Glance(fan).promising(fan.hubs(2.0 * PPM), 8)) == 0


def test_chances_do_not_change_the_hubs():
    clump = CLUMPS["seven, uneven"]
    fan, hubs = fan_of(clump), fan_of(clump).hubs(2.0 * PPM)
    for eye in fan.part.eyes:
        object.__setattr__(eye, "chance", 0.1)
    before = Glance(fan_of(clump)).promising(hubs, 8)
    assert np.array_equal(Glance(fan).promising(hubs, 8), before)
