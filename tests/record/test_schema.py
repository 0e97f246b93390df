"""The published schema is up to date, and records keep to it."""

import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from records import painted_record, records

from eyefind.record.coding import record_fields
from eyefind.record.schema import schema_text

PUBLISHED = Path(__file__).parents[2] / "docs" / "record.schema.json"
SCHEMA = json.loads(PUBLISHED.read_text(encoding="utf-8"))
CHECK = jsonschema.Draft202012Validator(SCHEMA)


def test_schema_is_up_to_date():
    assert PUBLISHED.read_text(encoding="utf-8") == schema_text(), (
        "renew it: python -m eyefind.record.schema > docs/record.schema.json"
    )


def test_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(record=records)
def test_any_record_keeps_to_it(record):
    CHECK.validate(json.loads(json.dumps(record_fields(record))))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda fields: fields.pop("photo"),
        lambda fields: fields.update(version=3),
        lambda fields: fields.update(format="other"),
        lambda fields: fields["flags"][0].update(kind="bud"),
        lambda fields: fields["flags"][0].update(likelihood=1.2),
        lambda fields: fields["flags"][4].update(outline_px=[[1, 2, 3]]),
        lambda fields: fields["scale"].update(px_per_mm=0),
        lambda fields: fields["anatomy"]["tubers"][0].update(neck_rc_px=[[1, 2]]),
        lambda fields: fields["anatomy"]["tubers"][0].update(width_mm=[[1, 2]]),
        lambda fields: fields["decisions"].append({"at": "now", "flag": "E1"}),
    ],
)
def test_schema_refuses_what_is_wrong(spoil):
    fields = json.loads(json.dumps(record_fields(painted_record())))
    CHECK.validate(fields)
    spoil(fields)
    assert not CHECK.is_valid(fields)
