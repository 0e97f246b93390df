"""Lamp sets in the list of clumps: one entry a set."""

from dataclasses import replace

import numpy as np
from lamp_sets import painted_under
from photo.files import exif_bytes
from PIL import Image
from records import painted_record
from standins import install, painted_photo

from eyefind.data import FrameFacts
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
