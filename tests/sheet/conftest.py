"""The painted clump with its plans."""

from dataclasses import replace
from pathlib import Path

import pytest
from records import painted_record, the_painted_clump

from eyefind.data import Photo, Plan, Record, Says, Style
from eyefind.plan import make_plan
from eyefind.record import read_record, write_record
from eyefind.rules import Rules, load_rules

NAME = "Bed 3 Abendröte.jpg"


@pytest.fixture(scope="session")
def rules() -> Rules:
    return load_rules()


@pytest.fixture(scope="session")
def photo() -> Photo:
    return Photo(the_painted_clump().rgb, NAME, "0" * 64, "2025-11-02T10:15:00")


def planned(
    name: str,
    style: Style,
    standing: dict[str, Says],
    rules: Rules,
    request: pytest.FixtureRequest,
) -> Record:
    """Return the record kept under `name`, so that no other step moves the sheet."""
    path = Path(__file__).parent / "golden" / f"{name}.eyefind.json"
    if request.config.getoption("--renew-golden"):
        bare = painted_record(NAME)
        plan = make_plan(bare.anatomy, bare.flags, standing, bare.scale, style, rules)
        path.unlink(missing_ok=True)
        write_record(replace(bare, plan=plan), path)
    return read_record(path)


@pytest.fixture(scope="session")
def standing() -> dict[str, Says]:
    return {flag.id: "confirmed" for flag in painted_record().flags}


@pytest.fixture(scope="session")
def record(standing, rules, request) -> Record:  # type: ignore[no-untyped-def]
    """Reviewed, divided into single tubers."""
    return planned("singles", "singles", standing, rules, request)


@pytest.fixture(scope="session")
def open_record(rules, request) -> Record:  # type: ignore[no-untyped-def]
    """Nothing answered yet, to be kept whole."""
    return planned("whole", "whole", {}, rules, request)


@pytest.fixture(scope="session")
def plan(record: Record) -> Plan:
    assert record.plan is not None
    return record.plan
