"""A clump under review without its window."""

from dataclasses import replace
from pathlib import Path

import pytest
from records import painted_record, the_painted_clump

from eyefind.data import Photo
from eyefind.desk.foresight import deciding_flags, foresee
from eyefind.desk.prepare import Prepared, Ready, clump_mask
from eyefind.desk.session import Session
from eyefind.job import Job
from eyefind.record import write_record
from eyefind.rules import load_rules


@pytest.fixture(scope="session")
def rules():
    return load_rules()


@pytest.fixture(scope="session")
def deciding(rules):
    """What decides the painted clump's plan: asked once, since it takes seconds."""
    return deciding_flags(painted_record(), "singles", rules)


@pytest.fixture(scope="session")
def start(rules, deciding):
    """Starts the review of the painted clump, its record in the folder given."""

    def start_in(folder: Path) -> Session:
        record, rgb = painted_record(), the_painted_clump().rgb
        path = folder / "clump 7.eyefind.json"
        write_record(record, path)
        photo = Photo(rgb, record.photo.file, record.photo.sha256)
        prepared = Prepared(path, "singles", deciding)
        ready = Ready(photo, prepared, clump_mask(record), -90.0)
        return Session(ready, Job(rules))

    return start_in


@pytest.fixture
def session(start, tmp_path):
    return start(tmp_path)


@pytest.fixture(scope="session")
def ready(start, tmp_path_factory):
    return start(tmp_path_factory.mktemp("ready")).ready


@pytest.fixture(scope="session")
def plan(rules):
    """The plan of the painted clump, nothing being answered."""
    return foresee(painted_record(), "singles", rules).plan


@pytest.fixture(scope="session")
def planned(plan):
    """The record of the painted clump with its plan."""
    return replace(painted_record(), plan=plan)
