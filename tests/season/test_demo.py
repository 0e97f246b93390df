"""The demo season by one command; here with two clumps, rendered very small."""

from dataclasses import replace
from functools import partial

import pytest

from eyefind.errors import UsageError
from eyefind.photo import find_card, read_code, read_photo
from eyefind.season import LEDGER_NAME, demo_garden
from eyefind.season import demo as demo_module
from eyefind.season.demo import make_demo
from eyefind.season.demo_garden import (
    NO_CODE,
    SPOILT,
    TWICE,
    VARIETIES,
    demo_clumps,
    demo_photos,
    render_photos,
)
from eyefind.season.garden import find_season
from eyefind.season.health import disagreements
from eyefind.season.ledger import Ledger
from eyefind.season.tables import Clump, ClumpPhoto, Garden, Growth, StoredPiece, Wish


def test_the_garden_has_twelve_varieties_and_forty_clumps():
    assert len({variety.name for variety in VARIETIES}) == 12
    clumps = demo_clumps()
    assert [clump.number for clump in clumps] == list(range(1, 41))
    assert set(SPOILT) | TWICE | NO_CODE <= {clump.number for clump in clumps}
    names = [name for name, _, _ in demo_photos()]
    assert len(names) == len(set(names)) == 42


def test_the_packed_season_was_made_of_it(demo, demo_season):
    assert [garden.name for garden in demo.rows(Garden)] == ["Quillfold"]
    rows = demo.ask(
        "SELECT clump.code, variety.name, bed FROM clump JOIN variety "
        "ON variety.id = clump.variety_id WHERE clump.binned_at IS NULL ORDER BY code"
    )
    assert [tuple(row) for row in rows] == [
        (f"EYE-{clump.number:04d}", clump.variety, clump.bed) for clump in demo_clumps()
    ]
    assert len(demo.rows(Wish)) == 12
    grown = {growth.piece_id for growth in demo.rows(Growth)}
    kept = {piece.id for piece in demo.rows(StoredPiece)}
    assert grown <= kept
    assert len(kept - grown) == len(demo.ask("SELECT 1 FROM piece_seen WHERE gone"))


@pytest.mark.slow
def test_one_command_makes_it(tmp_path, monkeypatch):
    pytest.importorskip("torch", reason="the renderer needs the extra workshop")
    few = tuple(replace(variety, clumps=1) for variety in VARIETIES[:2])
    for module in (demo_module, demo_garden):
        monkeypatch.setattr(module, "VARIETIES", few)
    monkeypatch.setattr(demo_garden, "TWICE", {2})
    monkeypatch.setattr(demo_garden, "NO_CODE", {1})
    monkeypatch.setattr(
        demo_module, "render_photos", partial(render_photos, width_px=900)
    )
    told = list(make_demo(tmp_path / "demo"))
    assert told[:3] == [f"IMG_030{n}.jpg is there" for n in (1, 2, 3)]
    photo = read_photo(tmp_path / "demo" / "photos" / "IMG_0302.jpg")
    assert photo.taken_at.startswith("2026-11-07T09:16")
    assert read_code(photo.rgb, find_card(photo.rgb)) == "EYE-0002"
    with Ledger(tmp_path / "demo" / LEDGER_NAME) as ledger:
        assert find_season(ledger).year == 2026
        codes = [clump.code for clump in ledger.rows(Clump)]
        assert codes == ["EYE-0001", "EYE-0002"]
        photos = sorted(ledger.rows(ClumpPhoto), key=lambda row: row.path)
        assert [photo.placed_by for photo in photos] == ["grower", "code", "code"]
        assert disagreements(ledger) == []
    with pytest.raises(UsageError, match="already"):
        next(make_demo(tmp_path / "demo"))
