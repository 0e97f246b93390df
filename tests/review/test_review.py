"""The review bound to its record: on disk before the method returns."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from records import assert_alike, painted_record

from eyefind.errors import UsageError
from eyefind.record import read_record, write_record
from eyefind.review import Review, standing


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "clump 7.eyefind.json"
    write_record(painted_record(), path)
    return path


def on_disk(path):
    record = read_record(path)
    return standing(record.flags, record.decisions)


def test_every_word_is_on_disk_at_once(path):
    review = Review(path)
    assert [flag.id for flag in review.undecided] == [f.id for f in review.flags]
    for flag_id, says in [("E1", "confirmed"), ("E2", "rejected"), ("F1", "not_sure")]:
        word = review.say(flag_id, says, "Ida")
        assert (word.flag, word.says, word.by) == (flag_id, says, "Ida")
        assert on_disk(path) == review.standing
        assert review.record.decisions == read_record(path).decisions
    assert on_disk(path) == {"E1": "confirmed", "E2": "rejected", "F1": "not_sure"}
    assert [flag.id for flag in review.undecided] == ["E3", "E4", "F2"]


def test_a_word_reads_the_record_once(path, monkeypatch):
    review, reads, read = Review(path), [], Path.read_bytes
    monkeypatch.setattr(Path, "read_bytes", lambda p: reads.append(p) or read(p))
    review.say("E1", "confirmed", "Ida")
    review.add_eye(20.0, 30.0, 3.0, "Ida")
    review.undo("Ida")
    assert reads == [path] * 3


def test_undo_and_redo_are_words_too(path):
    review = Review(path)
    review.say("E1", "confirmed", "Ida")
    review.say("E1", "rejected", "Ida")
    assert review.undo("Ida").says == "rejected"
    assert on_disk(path) == {"E1": "confirmed"}
    assert review.redo("Ida").says == "rejected"
    assert on_disk(path) == {"E1": "rejected"}
    says = [word.says for word in read_record(path).decisions]
    assert says == ["confirmed", "rejected", "undo", "redo"]


def test_nothing_to_take_back_writes_nothing(path):
    before = path.read_bytes()
    review = Review(path)
    assert review.undo("Ida") is None
    assert review.redo("Ida") is None
    assert path.read_bytes() == before


def test_time_has_an_offset(path):
    from datetime import datetime

    at = Review(path).say("E1", "confirmed", "Ida").at
    assert datetime.fromisoformat(at).utcoffset() is not None


def test_added_eyes(path):
    review = Review(path)
    tuber = review.record.anatomy.tubers[2]
    row, col = tuber.neck_rc_px
    first = review.add_eye(row + 3.04, col, 3.0, "Ida")
    assert (first.id, first.origin, first.belongs_to) == ("G1", "added", tuber.id)
    assert_alike(first, read_record(path).flags[-1], rounding=False)
    assert review.standing["G1"] == "confirmed"
    review.undo("Ida")
    assert "G1" not in {flag.id for flag in review.flags}
    # An id is never used twice, so that a redo cannot bring back the wrong one.
    second = review.add_eye(row, col + 9, 2.0, "Ida")
    assert second.id == "G2"
    assert [f.id for f in Review(path).flags if f.origin == "added"] == ["G2"]
    review.say("G2", "rejected", "Ida")
    assert on_disk(path)["G2"] == "rejected"


@pytest.mark.parametrize(
    ("act", "message"),
    [
        (lambda review: review.say("E99", "confirmed", "Ida"), r"no flag E99.*E1, E2"),
        (lambda review: review.say("G1", "confirmed", "Ida"), "no flag G1"),
        (lambda review: review.say("E1", "undo", "Ida"), "confirmed, rejected"),
        (lambda review: review.say("E1", "maybe", "Ida"), "'maybe' cannot be said"),
        (lambda review: review.add_eye(1200, 5, 3, "Ida"), "1200 rows"),
        (lambda review: review.add_eye(5, -1, 3, "Ida"), "outside"),
        (lambda review: review.add_eye(float("nan"), 1, 3, "Ida"), "outside"),
        (lambda review: review.add_eye(5, 5, 0, "Ida"), "0 mm"),
    ],
)
def test_what_makes_no_sense_is_refused_and_writes_nothing(path, act, message):
    before = path.read_bytes()
    with pytest.raises(UsageError, match=message):
        act(Review(path))
    assert path.read_bytes() == before


def test_two_windows_see_each_others_words(path):
    one, other = Review(path), Review(path)
    one.say("E1", "confirmed", "Ida")
    other.say("E2", "rejected", "Per")
    assert other.standing == {"E1": "confirmed", "E2": "rejected"}
    assert other.undo("Per").flag == "E2"
    assert one.say("E3", "confirmed", "Ida")
    assert on_disk(path) == {"E1": "confirmed", "E3": "confirmed"}


SAYS_WITHOUT_END = """
import itertools, sys
from pathlib import Path
from eyefind.review import Review
review = Review(Path(sys.argv[1]))
for n in itertools.count():
    review.say("E1", ("confirmed", "rejected")[n % 2], f"word {n}")
    print(n, flush=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="there is no kill -9 on Windows")
def test_killed_at_any_moment_no_word_is_lost(path):
    """Kill -9 at 25 moments: every word that was taken is on disk, in order."""
    pristine = path.read_bytes()
    command = [sys.executable, "-c", SAYS_WITHOUT_END, str(path)]
    total = 0
    for turn in range(25):
        path.write_bytes(pristine)
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            process.stdout.readline()
            time.sleep(turn * 0.0041)
            process.send_signal(signal.SIGKILL)
            taken = 1 + len(process.stdout.read().splitlines())
        names = [word["by"] for word in json.loads(path.read_text())["decisions"]]
        # The word being written when the kill came may be there as well.
        assert names == [f"word {n}" for n in range(len(names))]
        assert taken <= len(names) <= taken + 1
        total += taken
    assert total > 50
