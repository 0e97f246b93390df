"""Lamp sets on the command line: named, in a folder, or by their names."""

import shutil

from eyefind.record import read_record


def test_a_named_set_has_one_record(garden, eyefind):
    shutil.copy(garden / "bed 3.png", garden / "more.png")
    result = eyefind("look", "--set", "bed 3.png", "more.png")
    assert result.exit_code == 0, result.output
    assert [path.name for path in garden.glob("*.json")] == ["bed 3.eyefind.json"]
    (frame,) = read_record(garden / "bed 3.eyefind.json").frames
    # The copy has the same light, so that it is told and left out.
    assert (frame.photo.file, frame.left_out) == ("more.png", "set_lamp")
    assert "Lamp set: 2 photos, 1 left out" in result.stdout
    assert "The lamp stands in more.png where it stood before" in result.stdout


def test_a_set_of_one_is_refused_in_words(garden, eyefind):
    for words in (("bed 3.png",), (".", "bed 3.png")):
        result = eyefind("look", "--set", *words)
        assert result.exit_code == 2
        assert "two photos or more" in result.stderr


def test_of_a_single_photo_no_set_is_told(garden, eyefind):
    result = eyefind("look", "bed 3.png")
    assert result.exit_code == 0, result.output
    assert "Lamp set" not in result.stdout


def test_further_frames_in_a_folder_are_no_photos_of_their_own(garden, eyefind):
    shutil.copy(garden / "bed 3.png", garden / "bed 3-lamp2.png")
    result = eyefind("sheet", ".", "--out", "sheets")
    assert result.exit_code == 0, result.output
    assert [path.name for path in (garden / "sheets").glob("*.json")] == [
        "bed 3.eyefind.json"
    ]
