"""Spring: who is woken first, and what the flags were worth, reckoned by hand."""

from datetime import date

import pytest

from eyefind.errors import UsageError
from eyefind.season.garden import set_clumps
from eyefind.season.spring import note_growth, own_accuracy, wake_first
from eyefind.season.tables import Growth
from eyefind.season.winter import note_check, wilson

DAY = date(2027, 4, 20)


def test_doubtful_pieces_are_woken_first_and_the_least_likely_of_them_foremost(
    ledger, season, grow
):
    grow(1, "Owl Ledger", 0.9, 0.5, 0.2)
    lost = grow(2, "Marrow Lamp", 0.1, 0.85)
    note_check(ledger, lost[:1], "lost", DAY)
    found = wake_first(ledger, season)
    assert [item.eye_chance for item in found] == [0.2, 0.5, 0.85, 0.9]
    assert [bool(item.why) for item in found] == [True, True, False, False]


def test_what_grew_is_not_woken_again(ledger, season, grow):
    pieces = grow(1, "Owl Ledger", 0.9, 0.5)
    note_growth(ledger, pieces[:1], "shot", DAY, shoots=2)
    assert [item.letter for item in wake_first(ledger, season)] == ["B"]


def test_growth_is_entered_and_can_be_taken_back(ledger, season, grow):
    (piece,) = grow(1, "Owl Ledger", 0.9)
    note_growth(ledger, [piece], "shot", DAY, 3, "two on the neck")
    (row,) = ledger.rows(Growth)
    assert (row.piece_id, row.outcome, row.shoots) == (piece.id, "shot", 3)
    assert (row.on_day, row.note) == ("2027-04-20", "two on the neck")
    ledger.undo()
    assert ledger.rows(Growth) == []
    with pytest.raises(UsageError, match="sulked"):
        note_growth(ledger, [piece], "sulked", DAY)


def test_found_against_grown(ledger, season, grow):
    pieces = grow(1, "Owl Ledger", 0.9, 0.8, 0.4, 0.3, 0.9)
    note_growth(ledger, [pieces[0], pieces[2]], "shot", DAY)
    note_growth(ledger, [pieces[1], pieces[3]], "blind", DAY)
    note_growth(ledger, [pieces[4]], "rotted", DAY)  # says nothing of eyes
    (truth,) = own_accuracy(ledger, season, "all")
    assert (truth.pieces, truth.shot) == (4, 2)
    assert truth.expected == pytest.approx(0.9 + 0.8 + 0.4 + 0.3)
    assert (truth.safe, truth.safe_shot) == (2, 1)
    assert (truth.doubtful, truth.doubtful_shot) == (2, 1)
    assert (truth.flagged, truth.flagged_shot, truth.missed) == (4, 2, 0)
    assert (truth.low, truth.high) == wilson(1, 2)
    # Brier 1950: the mean of the squared differences.
    assert truth.brier == pytest.approx((0.1**2 + 0.8**2 + 0.6**2 + 0.3**2) / 4)


def test_a_piece_that_shot_where_no_eye_was_found_is_a_miss(ledger, season, grow):
    found = grow(1, "Owl Ledger", 0.9)
    # The second's eye was added by the grower.
    added = grow(2, "Owl Ledger", 0.9, 0.3, found_eyes=0)
    note_growth(ledger, [*found, *added], "shot", DAY)
    (truth,) = own_accuracy(ledger, season, "all")
    assert (truth.flagged, truth.flagged_shot, truth.missed) == (1, 1, 2)


def test_the_last_word_on_a_piece_counts(ledger, season, grow):
    pieces = grow(1, "Owl Ledger", 0.9)
    note_growth(ledger, pieces, "blind", DAY)
    note_growth(ledger, pieces, "shot", date(2027, 5, 20))
    (truth,) = own_accuracy(ledger, season, "all")
    assert (truth.pieces, truth.shot) == (1, 1)


def test_accuracy_by_variety_and_light(ledger, season, rules, grow):
    note_growth(ledger, grow(1, "Owl Ledger", 0.9), "shot", DAY)
    note_growth(ledger, grow(2, "Marrow Lamp", 0.9, 0.9), "blind", DAY)
    set_clumps(ledger, season, ["1"], {"light": "raking"}, rules)
    for by, expected in (
        ("variety", [("Marrow Lamp", 2, 0), ("Owl Ledger", 1, 1)]),
        ("light", [("not told", 2, 0), ("raking", 1, 1)]),
    ):
        found = own_accuracy(ledger, season, by)
        assert [(t.group, t.pieces, t.shot) for t in found] == expected


def test_nothing_is_told_before_anything_grew(ledger, season, grow):
    grow(1, "Owl Ledger", 0.9)
    assert own_accuracy(ledger, season, "all") == []


def test_the_demo_groups_add_up_to_all(demo, demo_season):
    (whole,) = own_accuracy(demo, demo_season, "all")
    for by in ("variety", "light"):
        parts = own_accuracy(demo, demo_season, by)
        for name in ("pieces", "shot", "safe", "safe_shot", "doubtful"):
            assert sum(getattr(p, name) for p in parts) == getattr(whole, name)
