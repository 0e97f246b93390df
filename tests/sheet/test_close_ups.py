"""Close-ups of large clumps: every piece is lettered there, each letter on its own."""

from dataclasses import replace

import numpy as np
import pytest
from blank_pictures import blank_pictures
from plan.clumps import SCALE, round_clump
from shapely import Point

from eyefind.data import Photo, PhotoFacts, Record
from eyefind.plan import make_plan
from eyefind.sheet.frame import cuts_frame
from eyefind.sheet.pages import make_sheet
from eyefind.sheet.picture import CLOSE, PX_PER_PT, draw_close_up
from eyefind.sheet.style import LETTER_PT

FILE = "Bed 9.jpg"


def large_clump(number, rules):
    """Return photo, record and answers of a round clump of so many tubers."""
    rng = np.random.default_rng(number)
    turns = (np.arange(number) + rng.uniform(-0.25, 0.25, number)) * 360 / number
    radius = 20.0 + 1.6 * number
    clump = round_clump([float(turn) for turn in turns], 0.8 * radius, radius)
    said = {flag.id: "confirmed" for flag in clump.flags}
    plan = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", rules)
    photo = Photo(np.full((1200, 1200, 3), 120, np.uint8), FILE, "0" * 64)
    facts = PhotoFacts(FILE, "0" * 64, 1200, 1200)
    return photo, Record(facts, SCALE, [], clump.anatomy, clump.flags, [], plan), said


def shown_cuts(record, said):
    """Return the cuts that each close-up of the sheet shows, and its width."""
    shown = {}

    def close_up(cuts, width_pt):
        shown[tuple(cut.number for cut in cuts)] = list(cuts), width_pt
        return blank_pictures().close_up(cuts, width_pt)

    pictures = replace(blank_pictures(), close_up=close_up)
    make_sheet(pictures, record, record.plan, said, "A4", "name")
    return list(shown.values())


@pytest.mark.parametrize("number", [5, 7, 9, 12])
def test_every_piece_is_lettered_on_a_close_up(number, rules):
    photo, record, said = large_clump(number, rules)
    pieces = {p.letter: p for p in record.plan.pieces}
    assert len(pieces) > 4
    found = set()
    for cuts, width_pt in shown_cuts(record, said):
        drawn = draw_close_up(photo, record, said, cuts, width_pt, keep=True)
        letters = [one for one in drawn.letters if one.text in pieces]
        found |= {one.text for one in letters}
        # No two tiles touch.
        tile = 1.3 * LETTER_PT * CLOSE[len(cuts) > 1] * PX_PER_PT / 2
        for one in letters:
            for other in letters:
                apart = np.abs(one.centre - other.centre).max()
                assert other is one or apart > 0.95 * tile
        # No letter stands in the middle of what another one names.
        frame = cuts_frame(cuts, record.flags, SCALE.px_per_mm, drawn.image.width)
        for one in letters:
            for other in letters:
                region = frame.region(pieces[other.text].outline_px)
                assert other is one or not region.contains(Point(one.centre))
    assert found == set(pieces)
