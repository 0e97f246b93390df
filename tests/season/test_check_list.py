"""The check list: every stored piece once, with its box, and what to do."""

from datetime import date
from itertools import pairwise

import pytest
from sheet_text import lines_of, text_of

from eyefind.season.check_list import check_list
from eyefind.season.labels import piece_name
from eyefind.season.tables import RESULTS
from eyefind.season.winter import load_advice, note_check

DAY = date(2027, 1, 10)


@pytest.fixture
def pages(demo, demo_season, rules):
    return check_list(demo, demo_season, DAY, rules)


def test_every_stored_piece_stands_on_it_once(demo, demo_season, pages):
    words = " ".join(text_of(pages)).split()
    rows = demo.ask("SELECT clump, letter, gone FROM piece_seen")
    for row in rows:
        name = piece_name(row["clump"], row["letter"])
        assert words.count(name) == (not row["gone"])
    assert words.count("☐") == len(RESULTS) * sum(not row["gone"] for row in rows)


def test_no_word_is_torn_and_every_caution_stands_by_its_step(pages):
    lines = lines_of(pages)
    heads = [line.text.strip() for line in lines]
    for result, advice in load_advice().items():
        assert result in heads
        first = advice.caution.split(". ")[0][:20]
        step = next(line for line in lines if line.text.startswith(f"{result}: "))
        caution = next(line for line in lines if first in line.text)
        assert caution.page == step.page
        assert caution.base < step.base


def test_the_band_and_the_day_stand_on_top(pages):
    first = text_of(pages)[0]
    assert first.startswith("Check of the store, 10 January 2027")
    assert "between 2 and 10 deg C" in first


def test_what_lies_on_top_is_checked_first(demo, demo_season, rules, pages):
    text = " ".join(text_of(pages))
    for box in ("A", "B", "C"):
        rows = demo.ask(
            "SELECT clump, letter, layer FROM piece_seen WHERE box = ? AND NOT gone",
            box,
        )
        places = {layer: [] for layer in ("top", "middle", "bottom")}
        for row in rows:
            name = piece_name(row["clump"], row["letter"])
            places[row["layer"]].append(text.index(f" {name} "))
        layers = [found for found in places.values() if found]
        for above, below in pairwise(layers):
            assert max(above) < min(below)


def test_what_was_lost_is_not_looked_for(ledger, season, rules, grow):
    pieces = grow(1, "Owl Ledger", 0.9, 0.9)
    note_check(ledger, pieces[:1], "lost", DAY)
    text = " ".join(text_of(check_list(ledger, season, DAY, rules, "Letter")))
    assert "In no box" in text
    assert "1-B Owl Ledger" in text
    assert "1-A" not in text
