"""Gardens, seasons, varieties, clumps and pieces by the names that a grower types."""

import pytest

from eyefind.errors import UsageError
from eyefind.review import Review
from eyefind.season.binding import refresh
from eyefind.season.garden import (
    find_clump,
    find_photo,
    find_piece,
    find_season,
    find_variety,
    set_box,
    set_clumps,
    set_wish,
    start_season,
)
from eyefind.season.health import disagreements
from eyefind.season.ledger import Ledger
from eyefind.season.tables import Variety, Wish
from eyefind.season.tags import read_tag


def test_the_next_season_takes_the_wishes_over(ledger, season):
    set_wish(ledger, season, "Owl Ledger", wanted=6, give_away=2)
    later = start_season(ledger, "Quillfold", 2027)
    (wish,) = ledger.rows(Wish, "season_id = ?", later.id)
    assert (wish.wanted, wish.give_away) == (6, 2)
    set_wish(ledger, later, "Owl Ledger", wanted=1)
    (former,) = ledger.rows(Wish, "season_id = ?", season.id)
    assert former.wanted == 6
    assert find_season(ledger).year == 2027
    assert find_season(ledger, 2026).id == season.id


def test_a_season_is_started_once(ledger, season):
    with pytest.raises(UsageError, match="already"):
        start_season(ledger, "Quillfold", 2026)


def test_of_two_gardens_one_must_be_named(ledger, season):
    start_season(ledger, "Backfield", 2026)
    with pytest.raises(UsageError, match="--garden") as told:
        find_season(ledger)
    assert "Backfield" in told.value.what
    assert find_season(ledger, None, "Quillfold").id == season.id


def test_an_empty_ledger_says_how_to_start(ledger):
    with pytest.raises(UsageError, match="season start"):
        find_season(ledger)


def test_a_wish_is_changed_in_parts(ledger, season):
    set_wish(ledger, season, "Owl Ledger", wanted=6)
    set_wish(ledger, season, "owl ledger", give_away=2, note="likes it dry")
    (wish,) = ledger.rows(Wish)
    assert (wish.wanted, wish.give_away) == (6, 2)
    (variety,) = ledger.rows(Variety)
    assert (variety.name, variety.note) == ("Owl Ledger", "likes it dry")
    with pytest.raises(UsageError):
        set_wish(ledger, season, "Owl Ledger", wanted=-1)
    assert ledger.rows(Wish) == [wish]


def test_a_variety_that_is_not_there_lists_those_that_are(ledger, season):
    set_wish(ledger, season, "Owl Ledger")
    with pytest.raises(UsageError, match="Owl Ledger"):
        find_variety(ledger, season, "Owl Leger")


@pytest.mark.parametrize("name", ["2", "0002", "EYE-0002", "eye-0002"])
def test_a_clump_goes_by_its_card(demo, demo_season, name):
    assert find_clump(demo, demo_season, name).name == "EYE-0002"


@pytest.mark.parametrize("name", ["3-A", "3A", "EYE-0003-A", "EYE-2026-0003-A", "3-a"])
def test_a_piece_goes_by_clump_and_letter(demo, demo_season, name):
    piece = find_piece(demo, demo_season, name)
    assert piece.letter == "A"
    assert piece.clump_id == find_clump(demo, demo_season, "3").id


@pytest.mark.parametrize("name", ["", "3-", "A", "3-Z", "99-A", "no such-B"])
def test_what_is_no_piece_is_told(demo, demo_season, name):
    with pytest.raises(UsageError):
        find_piece(demo, demo_season, name)


def test_a_photo_goes_by_its_name(demo, demo_season):
    whole = find_photo(demo, demo_season, "IMG_0301")
    assert find_photo(demo, demo_season, "IMG_0301.jpg") == whole
    assert find_photo(demo, demo_season, whole.path) == whole
    with pytest.raises(UsageError, match="0 photos"):
        find_photo(demo, demo_season, "IMG_9999")


def test_words_on_clumps_go_into_their_records_and_are_one_deed(
    demo, demo_season, demo_path, rules
):
    values = {"bed": "7", "place": "by the gate", "note": "late"}
    set_clumps(demo, demo_season, ["1", "2"], values, rules)
    record = demo_path.parent / "photos" / "1" / "IMG_0301.eyefind.json"
    tag = read_tag(record)
    assert (tag.bed, tag.place, tag.note) == ("7", "by the gate", "late")
    # The record is known to the ledger as it now is.
    assert disagreements(demo) == []
    demo.undo()
    assert find_clump(demo, demo_season, "2").bed == "1"


def test_an_answer_given_before_a_word_on_the_clump_is_not_passed_over(
    demo, demo_season, demo_path, rules
):
    record = demo_path.parent / "photos" / "1" / "IMG_0301.eyefind.json"
    review = Review(record)
    review.say(review.undecided[0].id, "not_sure", "Ida")
    before = find_photo(demo, demo_season, "IMG_0301").unanswered
    set_clumps(demo, demo_season, ["1"], {"note": "late"}, rules)
    refresh(demo, demo_season, rules)
    assert find_photo(demo, demo_season, "IMG_0301").unanswered == before - 1


def test_a_number_makes_a_clump_and_a_name_does_not(ledger, season, rules):
    (clump,) = set_clumps(ledger, season, ["17"], {"bed": "3"}, rules)
    assert (clump.name, clump.code, clump.bed) == ("EYE-0017", "EYE-0017", "3")
    with pytest.raises(UsageError):
        set_clumps(ledger, season, ["18", "moth"], {}, rules)
    with pytest.raises(UsageError):
        find_clump(ledger, season, "18")  # all or nothing


@pytest.mark.parametrize("light", ["moonlight", "RAKING"])
def test_an_unknown_light_is_refused(ledger, season, rules, light):
    with pytest.raises(UsageError, match="light"):
        set_clumps(ledger, season, ["17"], {"light": light}, rules)


@pytest.mark.parametrize("litres", [0, -1, float("nan"), float("inf")])
def test_a_box_holds_something(ledger, season, litres):
    with pytest.raises(UsageError, match="litres"):
        set_box(ledger, season, "A", litres)


def test_a_ledger_may_lie_anywhere(tmp_path):
    odd = tmp_path / "Grüße ?#%20 'x'.db"
    with Ledger(odd) as ledger:
        start_season(ledger, "Quillfold", 2026)
    with Ledger(odd) as ledger:
        assert find_season(ledger).year == 2026
