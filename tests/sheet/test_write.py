"""Files: named as the record is, whole or not there, refusals in words."""

import errno
from dataclasses import replace
from pathlib import Path

import pytest
from blank_pictures import blank_pictures
from PIL import Image
from pypdf import PdfReader

from eyefind.errors import PhotoError, UsageError, WriteError
from eyefind.record import write_record
from eyefind.sheet import write_sheet


@pytest.fixture
def quick(monkeypatch):
    """Let the drawing be done at once: these tests are about the files."""
    pictures, picture = blank_pictures(), Image.new("RGB", (60, 50))
    monkeypatch.setattr("eyefind.sheet.write.pictures_of", lambda *_: pictures)
    monkeypatch.setattr("eyefind.sheet.write.draw_picture", lambda *_: picture)


FILES = [
    f"Bed 3 Abendröte.eyefind-{what}.{kind}"
    for what in ("sheet", "after")
    for kind in ("pdf", "png")
]


def test_picture_and_pages_are_written(photo, record, standing, tmp_path, rules):
    paths = write_sheet(photo, record, standing, tmp_path, rules)
    assert paths == [tmp_path / file for file in FILES]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(FILES)
    for path in paths[1::2]:
        with Image.open(path) as picture:
            assert picture.format == "PNG"
    for path in paths[::2]:
        assert len(PdfReader(path).pages) == 1
    # 600 clumps a season must not fill a disk.
    assert paths[1].stat().st_size < 3e6


@pytest.mark.usefixtures("quick")
def test_an_unreviewed_picture_is_taller_by_its_stamp(
    photo, record, standing, plan, tmp_path, rules
):
    _, reviewed, *_ = write_sheet(photo, record, standing, tmp_path / "a", rules)
    open_ = replace(record, plan=replace(plan, reviewed=False))
    _, unreviewed, *_ = write_sheet(photo, open_, standing, tmp_path / "b", rules)
    with Image.open(reviewed) as one, Image.open(unreviewed) as two:
        assert two.height > one.height
        assert two.width == one.width
        below = two.crop((0, two.height - one.height, *two.size))
        assert below.tobytes() == one.tobytes()


@pytest.mark.usefixtures("quick")
def test_the_sheet_is_named_as_the_record_is(photo, record, standing, tmp_path, rules):
    # A record of another photo has the short name already.
    other = replace(record, photo=replace(record.photo, file="Bed 3 Abendröte.png"))
    write_record(other, tmp_path / "Bed 3 Abendröte.eyefind.json")
    paths = write_sheet(photo, record, standing, tmp_path, rules)
    wanted = [file.replace("röte.", "röte.jpg.") for file in FILES]
    assert [path.name for path in paths] == wanted


def test_no_plan_no_sheet(photo, record, standing, tmp_path, rules):
    with pytest.raises(UsageError, match="no cut plan for Bed 3 Abendröte"):
        write_sheet(photo, replace(record, plan=None), standing, tmp_path, rules)


def full_disk(*_):
    raise OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize("step", ["os.fsync", "pathlib.Path.replace"])
def test_a_full_disk_leaves_the_former_sheet(
    step, photo, record, standing, tmp_path, rules, monkeypatch
):
    for name in FILES:
        (tmp_path / name).write_text("former", encoding="utf-8")
    monkeypatch.setattr(step, full_disk)
    with pytest.raises(WriteError, match="No space left") as caught:
        write_sheet(photo, record, standing, tmp_path, rules)
    assert str(tmp_path / FILES[0]) in caught.value.what
    assert "Make room" in caught.value.advice
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(FILES)
    for name in FILES:
        assert (tmp_path / name).read_text(encoding="utf-8") == "former"


@pytest.mark.usefixtures("quick")
def test_a_folder_that_cannot_be_is_refused(photo, record, standing, tmp_path, rules):
    in_the_way = tmp_path / "file"
    in_the_way.write_text("x", encoding="utf-8")
    with pytest.raises(WriteError):
        write_sheet(photo, record, standing, in_the_way / "folder", rules)


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize(
    "name",
    [
        "日本 語.jpg",
        "a'b\"c & <d>.jpg",
        "..jpg",
        ".jpg",
        "Ü" * 60 + ".jpg",
        "x.tar.jpg",
    ],
)
def test_odd_names_are_written(name, photo, record, standing, tmp_path, rules):
    odd = replace(record, photo=replace(record.photo, file=name))
    paths = write_sheet(replace(photo, file=name), odd, standing, tmp_path, rules)
    assert all(path.parent == tmp_path and path.is_file() for path in paths)


@pytest.mark.usefixtures("quick")
def test_a_name_that_is_too_long_is_refused_in_words(
    photo, record, standing, tmp_path, rules
):
    name = "x" * 238 + ".jpg"
    odd = replace(record, photo=replace(record.photo, file=name))
    with pytest.raises(PhotoError, match="too long"):
        write_sheet(replace(photo, file=name), odd, standing, tmp_path, rules)


def test_the_photo_is_not_touched(photo, record, standing, tmp_path, rules):
    before = photo.rgb.copy()
    write_sheet(photo, record, standing, Path(tmp_path), rules, "Letter")
    assert (photo.rgb == before).all()
