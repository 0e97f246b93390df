"""Winter: the days, the advice, the losses; the calendar read by its library."""

from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar

from eyefind.errors import UsageError
from eyefind.season.dates import calendar_file
from eyefind.season.garden import set_box, set_clumps
from eyefind.season.store import keep_plan, plan_boxes
from eyefind.season.tables import RESULTS, StoreCheck
from eyefind.season.winter import (
    LAST_CHECK_MONTH_DAY,
    Day,
    band_words,
    load_advice,
    losses,
    note_check,
    wilson,
    winter_days,
)

CUT = date(2026, 11, 8)


@pytest.mark.parametrize(
    ("found", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0, 0.1611)],
)
def test_wilsons_interval_as_published(found, of, low, high):
    # Newcombe 1998, Statistics in Medicine 17:857-872, Table I, method 3 (from memory).
    assert wilson(found, of) == pytest.approx((low, high), abs=5e-5)


def test_nothing_is_known_of_no_piece():
    assert wilson(0, 0) == (0.0, 1.0)


def test_wounds_dry_before_the_first_check(ledger, season, rules, grow):
    grow(1, "Owl Ledger", 0.9)
    set_clumps(ledger, season, ["1"], {"cut_on": CUT.isoformat()}, rules)
    dry, *checks = winter_days(ledger, season, rules)
    hours = (dry.on - CUT) / timedelta(hours=1)
    assert rules["wound_drying_h"].value <= hours < rules["wound_drying_h"].value + 24
    every = timedelta(days=rules.value("check_interval_days"))
    assert [day.on for day in checks] == [CUT + every * n for n in (1, 2, 3, 4)]
    assert checks[-1].on <= date(2027, *LAST_CHECK_MONTH_DAY) < checks[-1].on + every
    assert all("dahlia" in day.why.casefold() for day in checks)  # the source


def test_lifted_clumps_are_checked_though_none_was_cut(ledger, season, rules):
    set_clumps(ledger, season, ["1"], {"lifted_on": CUT.isoformat()}, rules)
    days = winter_days(ledger, season, rules)
    assert {day.what for day in days} == {"Check the store"}


def test_without_a_day_there_is_no_calendar(ledger, season, rules):
    set_clumps(ledger, season, ["1"], {}, rules)
    assert winter_days(ledger, season, rules) == []


def test_the_band_names_its_sources(rules):
    cold, _, damp = band_words(rules)
    assert f"{rules.value('store_low_c'):g} and {rules.value('store_high_c'):g}" in cold
    assert rules["store_low_c"].source in cold
    assert rules["store_high_humidity"].source in damp


def test_every_result_has_advice_a_caution_and_a_source():
    advice = load_advice()
    assert list(advice) == list(RESULTS)
    assert all(one.do and one.caution and one.source for one in advice.values())
    assert "No photo tells a disease" in advice["soft"].caution
    assert "Disinfect the blade" in advice["soft"].caution


def test_a_check_is_entered_and_advises(ledger, season, grow):
    pieces = grow(1, "Owl Ledger", 0.9, 0.9)
    advice = note_check(ledger, pieces, "shrivelled", CUT, "the left ones")
    assert advice == load_advice()["shrivelled"]
    rows = ledger.rows(StoreCheck)
    assert [(r.piece_id, r.result, r.on_day, r.note) for r in rows] == [
        (piece.id, "shrivelled", "2026-11-08", "the left ones") for piece in pieces
    ]
    ledger.undo()
    assert ledger.rows(StoreCheck) == []


def test_an_unknown_result_is_refused(ledger, season, grow):
    with pytest.raises(UsageError, match="mouldy"):
        note_check(ledger, grow(1, "Owl Ledger", 0.9), "mouldy", CUT)


def test_losses_by_variety_box_and_cut(ledger, season, rules, grow):
    owl = grow(1, "Owl Ledger", 0.9, 0.9, 0.9)
    marrow = grow(2, "Marrow Lamp", 0.9)
    grow(3, "Marrow Lamp", 0.9)  # never checked
    set_box(ledger, season, "A", 40)
    keep_plan(ledger, plan_boxes(ledger, season, rules, CUT))
    note_check(ledger, owl, "sound", CUT)
    note_check(ledger, owl[:1], "soft", CUT + timedelta(days=30))
    note_check(ledger, marrow, "lost", CUT + timedelta(days=30))
    for by, expected in (
        ("variety", [("Marrow Lamp", 1, 1), ("Owl Ledger", 3, 1)]),
        ("cut", [("cut", 3, 1), ("whole", 1, 1)]),
        ("box", [("A", 4, 2)]),
    ):
        found = losses(ledger, season, by)
        assert [(x.group, x.pieces, x.lost) for x in found] == expected
        assert all(x.low <= x.share <= x.high for x in found)


MADE = datetime(2026, 11, 9, 18, tzinfo=UTC)


def test_the_calendar_is_read_back_by_its_library(demo, demo_season, rules):
    days = winter_days(demo, demo_season, rules)
    data = calendar_file(demo_season, days, MADE)
    calendar = Calendar.from_ical(data)
    assert (calendar["prodid"], calendar["version"]) == (
        "-//eyefind//season//EN",
        "2.0",
    )
    events = calendar.walk("VEVENT")
    assert [(e.decoded("dtstart"), str(e["summary"])) for e in events] == [
        (day.on, day.what) for day in days
    ]
    assert [str(e["description"]) for e in events] == [day.why for day in days]
    # RFC 5545, 3.6.1: the end of a day's event is the day after, and is not part of it.
    assert all(
        e.decoded("dtend") - e.decoded("dtstart") == timedelta(days=1) for e in events
    )
    # RFC 5545, 3.1: lines end with CRLF and hold at most 75 octets.
    lines = data.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert b"\n" not in b"".join(lines)


def test_a_second_import_changes_nothing(season):
    days = [Day(CUT, "Check the store", "monthly"), Day(CUT, "Wounds dry", "48 h")]
    once, again = (
        Calendar.from_ical(calendar_file(season, days, MADE + timedelta(days=wait)))
        for wait in (0, 5)
    )
    names = [str(event["uid"]) for event in once.walk("VEVENT")]
    assert names == [str(event["uid"]) for event in again.walk("VEVENT")]
    assert len(set(names)) == 2


def test_words_with_commas_and_umlauts_survive(season):
    day = Day(CUT, "Prüfen; Kiste A, B\\C", "a line\nand another")
    (event,) = Calendar.from_ical(calendar_file(season, [day], MADE)).walk("VEVENT")
    assert (event["summary"], event["description"]) == (day.what, day.why)
