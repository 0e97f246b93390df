"""A season made from the records of the demo season, without a picture.

``demo_records.zip`` holds what ``eyefind season demo`` wrote beside its photographs.
"""

from pathlib import Path
from zipfile import ZipFile

import pytest

from eyefind.rules import load_rules
from eyefind.season.batch import Looked, enter
from eyefind.season.demo import plant
from eyefind.season.ledger import Ledger
from eyefind.season.placing import place_new
from eyefind.season.readings import read_reading

ARCHIVE = Path(__file__).with_name("demo_records.zip")


@pytest.fixture(scope="session")
def rules():
    return load_rules()


@pytest.fixture
def records(tmp_path) -> list[Path]:
    """The demo season's records in a folder of their own."""
    folder = tmp_path / "photos"
    with ZipFile(ARCHIVE) as archive:
        archive.extractall(folder)
    return sorted(folder.glob("*.eyefind.json"))


@pytest.fixture
def ledger(tmp_path):
    with Ledger(tmp_path / "season.eyefind.db") as ledger:
        yield ledger


@pytest.fixture
def season(ledger, records, rules):
    """The demo season, its photos looked at and placed."""
    season = plant(ledger, rules)
    for record in records:
        photo = record.with_name(record.name.replace(".eyefind.json", ".jpg"))
        enter(ledger, season, Looked(photo, read_reading(record, rules)))
    place_new(ledger, season, rules)
    return season
