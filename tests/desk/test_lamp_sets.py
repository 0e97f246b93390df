"""Lamp sets in the list of clumps: one entry a set."""

from dataclasses import replace

import numpy as np
from lamp_sets import painted_under, write_lamp_set
from photo.files import exif_bytes
from PIL import Image
from records import painted_record
from standins import AtOnce, install, painted_photo

from eyefind.data import FrameFacts
from eyefind.desk.ahead import KEPT, Ahead
from eyefind.desk.prepare import prepare
from eyefind.desk.queue import find_clumps
from eyefind.job import Job
from eyefind.record import read_record, write_record
from eyefind.rules import load_rules


def names(folder):
    return [entry.photo_path.name for entry in find_clumps([folder], None)]


def test_frames_that_a_record_names_are_no_clumps_of_their_own(tmp_path):
    for name in ("a.png", "b.png", "c.png"):
        painted_photo(tmp_path / name)
    assert names(tmp_path) == ["a.png", "b.png", "c.png"]
    record = painted_record()
    frame = FrameFacts(replace(record.photo, file="b.png"), np.zeros((4, 2)))
    photo = replace(record.photo, file="a.png")
    record = replace(record, photo=photo, frames=[frame])
    write_record(record, tmp_path / "a.eyefind.json")
    assert names(tmp_path) == ["a.png", "c.png"]


def test_frames_known_by_their_names_are_no_clumps_of_their_own(tmp_path):
    for name in ("a.png", "a-lamp2.png"):
        painted_photo(tmp_path / name)
    assert names(tmp_path) == ["a.png"]


def test_frames_of_a_folder_are_told_by_time_and_view(tmp_path, monkeypatch):
    """As a phone names them; the queue looks at them as one set."""
    install(monkeypatch)
    for number, rgb in enumerate(painted_under((80, 260)).values()):
        taken = exif_bytes(taken=f"2026:11:03 10:00:{10 * number:02d}")
        path = tmp_path / f"IMG_{number}.jpg"
        Image.fromarray(rgb).save(path, quality=95, exif=taken)
    (entry,) = find_clumps([tmp_path], None)
    assert [path.name for path in entry.frames] == ["IMG_1.jpg"]
    job = Job(load_rules())
    job.look(entry.photo_path)  # before the second one came
    made = prepare(entry.photo_path, job, entry.frames)
    (frame,) = read_record(made.record_path).frames
    assert (frame.photo.file, frame.left_out) == ("IMG_1.jpg", "")


def test_the_set_of_the_next_clump_is_read_ahead_and_no_other(tmp_path, monkeypatch):
    monkeypatch.setattr("eyefind.desk.ahead.Worker", AtOnce)
    monkeypatch.setattr("eyefind.desk.prepare.deciding_flags", lambda *_: [])
    for bed in (1, 2, 3):
        write_lamp_set(tmp_path, f"bed {bed}", (80, 260))
    write_record(painted_record("bed 4.png"), tmp_path / "bed 4.eyefind.json")
    painted_photo(tmp_path / "bed 4.png")
    entries = find_clumps([tmp_path], None)
    count, sets = len(entries), range(3)
    ahead = Ahead(entries, Job(load_rules()), lambda entry: None)
    try:
        for index in (0, 1, 2, 3, 0):
            ahead.go_to(index)
            at_hand = [n for n in range(count) if ahead.lit(n) is not None]
            assert at_hand == [n for n in range(index, index + KEPT) if n in sets]
            for near in at_hand:
                assert len(ahead.lit(near).result().frames) == 2
    finally:
        ahead.close()
