"""What the ledger takes from a record, whatever the record holds."""

import pytest
from hypothesis import HealthCheck, given, settings
from records import painted_record, records

from eyefind.errors import RecordError
from eyefind.record import read_record, write_record
from eyefind.season.batch import Looked, enter
from eyefind.season.garden import start_season
from eyefind.season.ledger import Ledger
from eyefind.season.placing import place_new
from eyefind.season.readings import read_reading


@settings(
    deadline=None,
    max_examples=25,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(records)
def test_any_record_is_taken_or_refused_with_words(
    tmp_path_factory, rules, quick_ways, record
):
    folder = tmp_path_factory.mktemp("any")
    path = folder / "a.eyefind.json"
    write_record(record, path)
    try:
        reading = read_reading(path, rules)
    except RecordError:
        return
    with Ledger(folder / "l.db") as ledger:
        season = start_season(ledger, "Quillfold", 2026)
        enter(ledger, season, Looked(folder / "a.jpg", reading))
        place_new(ledger, season, rules)
        assert ledger.faults() == []


def test_the_painted_clump(tmp_path, rules):
    path = tmp_path / "clump 7.eyefind.json"
    write_record(painted_record(), path)
    reading = read_reading(path, rules)
    assert reading.unanswered == len(read_record(path).flags)
    assert (reading.answers, reading.reviewed, reading.pieces) == (0, False, [])
    assert [way.style for way in reading.ways] == ["whole", "stems", "singles", "least"]
    assert reading.ways[0].cuts <= reading.ways[2].cuts


def test_a_record_that_is_gone_is_told(tmp_path, rules):
    with pytest.raises(RecordError, match="cannot be opened"):
        read_reading(tmp_path / "none.eyefind.json", rules)
