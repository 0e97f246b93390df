"""The demo season as it was packed, and a bare one that tests fill themselves.

``demo_season.zip`` is what these two commands write::

    eyefind season demo --out demo-season
    eyefind season zip --no-photos --ledger demo-season/season.eyefind.db \
        --out tests/season/demo_season.zip
"""

from pathlib import Path

import pytest

from eyefind.rules import load_rules
from eyefind.season.archive import unpack
from eyefind.season.garden import find_season, set_clumps, set_wish, start_season
from eyefind.season.ledger import Ledger
from eyefind.season.tables import StoredPiece, Way

ARCHIVE = Path(__file__).with_name("demo_season.zip")


@pytest.fixture(scope="session")
def rules():
    return load_rules()


@pytest.fixture
def demo_path(tmp_path) -> Path:
    """The ledger of the demo season, which was worked on to the end of the spring."""
    return unpack(ARCHIVE, tmp_path / "demo")


@pytest.fixture
def demo(demo_path):
    with Ledger(demo_path) as ledger:
        yield ledger


@pytest.fixture
def demo_season(demo):
    return find_season(demo)


@pytest.fixture
def quick_ways(monkeypatch):
    """Records are read without trying every way to divide, which takes long."""

    def way(_record, style, _rules):
        return Way(clump_id=0, style=style, cuts=0, chances="[]", volumes_ml="[]")

    monkeypatch.setattr("eyefind.season.readings._way", way)


@pytest.fixture
def ledger(tmp_path):
    with Ledger(tmp_path / "season.eyefind.db") as ledger:
        yield ledger


@pytest.fixture
def season(ledger):
    return start_season(ledger, "Quillfold", 2026)


@pytest.fixture
def grow(ledger, season, rules):
    """Add a clump with pieces to the bare season: ``grow(1, "Harrow Pink", 0.9, 0.4)``.

    Each number is a piece's chance of an eye; from 0.8 on it is safe. Words set
    columns of all its pieces.
    """

    def add(card: int, variety: str, *chances: float, **columns) -> list[StoredPiece]:
        set_wish(ledger, season, variety)
        (clump,) = set_clumps(ledger, season, [str(card)], {"variety": variety}, rules)
        with ledger.deed("pieces") as deed:
            return [
                deed.add(
                    StoredPiece(
                        clump_id=clump.id,
                        letter="ABCDEFGH"[number],
                        eye_chance=chance,
                        safe=chance >= 0.8,
                        **{**PIECE, "whole": len(chances) == 1, **columns},
                    )
                )
                for number, chance in enumerate(chances)
            ]

    return add


PIECE = {
    "eyes": 1,
    "found_eyes": 1,
    "confirmed_eyes": 0,
    "volume_ml": 100.0,
    "volume_sd_ml": 20.0,
    "thickest_mm": 30.0,
}
