"""Lamp sets in the list of clumps: one entry a set."""

from dataclasses import replace

import numpy as np
from records import painted_record
from standins import painted_photo

from eyefind.data import FrameFacts
from eyefind.desk.queue import find_clumps
from eyefind.record import write_record


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
