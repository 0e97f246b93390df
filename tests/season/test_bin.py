"""The bin: nothing is deleted, all comes out again."""

import pytest

from eyefind.errors import UsageError
from eyefind.season.bin import in_bin, put_into_bin, take_out
from eyefind.season.counts import count_varieties
from eyefind.season.garden import find_box, find_clump, find_photo, set_box, set_wish
from eyefind.season.progress import waiting
from eyefind.season.tables import TABLES, Box, ClumpPhoto, StoredPiece, Wish


def everything(ledger):
    return {kind: ledger.rows(kind) for kind in TABLES}


@pytest.mark.parametrize(
    ("what", "name"),
    [("clump", "2"), ("variety", "owl ledger"), ("box", "A"), ("photo", "IMG_0302")],
)
def test_one_undo_brings_back_all_that_went_with_it(demo, demo_season, what, name):
    before = everything(demo)
    put_into_bin(demo, demo_season, what, name)
    assert everything(demo) != before
    assert in_bin(demo)
    demo.undo()
    assert everything(demo) == before


def test_what_was_binned_comes_out_by_its_number(demo, demo_season):
    before = everything(demo)
    put_into_bin(demo, demo_season, "clump", "2")
    assert [c.clump for c in waiting(demo, demo_season)].count("EYE-0002") == 0
    # Its two photos went with it.
    for name in ("clump EYE-0002", "IMG_0302.jpg", "IMG_0303.jpg"):
        words = [thing.words for thing in in_bin(demo)]
        number = next(n for n, said in enumerate(words, 1) if said.endswith(name))
        assert take_out(demo, number) == words[number - 1]
    assert everything(demo) == before


def test_a_binned_variety_takes_its_counts_with_it(demo, demo_season, rules):
    put_into_bin(demo, demo_season, "variety", "Owl Ledger")
    names = [count.variety for count in count_varieties(demo, demo_season, rules)]
    assert "Owl Ledger" not in names
    assert len(demo.rows(Wish)) == 11


def test_pieces_of_a_binned_box_are_told_to_lie_in_none(demo, demo_season):
    put_into_bin(demo, demo_season, "box", "A")
    box = demo.rows(Box, binned=True)[0]
    inside = demo.rows(StoredPiece, "box_id = ?", box.id)
    assert inside == []


def test_a_name_may_be_given_anew_but_then_the_old_one_stays_in(ledger, season):
    set_box(ledger, season, "A", 40)
    put_into_bin(ledger, season, "box", "A")
    set_box(ledger, season, "A", 25)
    with pytest.raises(UsageError, match="already"):
        take_out(ledger, 1)
    assert find_box(ledger, season, "A").litres == 25


def test_a_binned_photo_is_not_taken_in_again(demo, demo_season):
    put_into_bin(demo, demo_season, "photo", "IMG_0302")
    with pytest.raises(UsageError):
        find_photo(demo, demo_season, "IMG_0302")
    assert len(demo.rows(ClumpPhoto, binned=True)) == 1


@pytest.mark.parametrize("number", [0, 1, -1])
def test_a_number_that_is_not_in_the_bin_is_refused(ledger, season, number):
    with pytest.raises(UsageError, match="bin has no"):
        take_out(ledger, number)


def test_what_is_not_there_cannot_be_binned(ledger, season):
    for what in ("clump", "variety", "box", "photo"):
        with pytest.raises(UsageError):
            put_into_bin(ledger, season, what, "none")
    set_wish(ledger, season, "Owl Ledger")
    with pytest.raises(UsageError):
        find_clump(ledger, season, "Owl Ledger")
