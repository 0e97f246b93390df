"""The painted clump with its plans."""

from dataclasses import replace

import pytest
from records import painted_record, the_painted_clump

from eyefind.data import Photo, Plan, Record, Says
from eyefind.plan import make_plan
from eyefind.rules import Rules, load_rules

NAME = "Bed 3 Abendröte.jpg"


@pytest.fixture(scope="session")
def rules() -> Rules:
    return load_rules()


@pytest.fixture(scope="session")
def photo() -> Photo:
    return Photo(the_painted_clump().rgb, NAME, "0" * 64, "2025-11-02T10:15:00")


def planned(style: str, standing: dict[str, Says], rules: Rules) -> Record:
    record = painted_record(NAME)
    plan = make_plan(record.anatomy, record.flags, standing, record.scale, style, rules)
    return replace(record, plan=plan)


@pytest.fixture(scope="session")
def standing() -> dict[str, Says]:
    return {flag.id: "confirmed" for flag in painted_record().flags}


@pytest.fixture(scope="session")
def record(standing: dict[str, Says], rules: Rules) -> Record:
    """Reviewed, divided into single tubers."""
    return planned("singles", standing, rules)


@pytest.fixture(scope="session")
def open_record(rules: Rules) -> Record:
    """Nothing answered yet, to be kept whole."""
    return planned("whole", {}, rules)


@pytest.fixture(scope="session")
def plan(record: Record) -> Plan:
    assert record.plan is not None
    return record.plan
