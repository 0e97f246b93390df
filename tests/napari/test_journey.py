"""From the opened folder to every saved sheet by key alone, in a real window."""

import pytest
from grower import Grower

from eyefind.record import read_record
from eyefind.review import standing

pytestmark = pytest.mark.gui

SEED = 2
"""Draws two wrong answers among the eighteen."""
TRUE = {"E1", "E2", "E3", "E4", "F1"}
"""Of the flags of the painted clump those that this garden's truth confirms."""


def test_all_clumps_by_key_alone(bench):
    grower = Grower(bench.panel, SEED)
    tallies = []
    for number in range(3):
        tallies.append(grower.review(TRUE))
        if number < 2:
            grower.next_clump()
    assert sum(len(tally.pressed) for tally in tallies) == 18
    assert sum(tally.slips for tally in tallies) == 2
    assert [tally.keys for tally in tallies] == [7, 7, 7], "one a flag, one a sheet"
    for name, tally in zip(("bed 1", "bed 2", "bed 3"), tallies, strict=True):
        record = read_record(bench.folder / f"{name}.eyefind.json")
        words = standing(record.flags, record.decisions)
        assert words == tally.pressed
        wrong = {flag for flag, says in tally.true.items() if words[flag] != says}
        assert len(wrong) == tally.slips
        assert record.plan is not None
        assert list(bench.folder.glob(f"{name}*.pdf"))
