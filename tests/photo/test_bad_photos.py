import subprocess
import sys
import warnings
from contextlib import suppress
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from photo.files import exif_bytes, png_header_only, scene
from PIL import Image

from eyefind.errors import ExitCode, PhotoError
from eyefind.photo import find_photos, read_photo


def refused(path, *words):
    """Check that a photo is refused with these words and some advice."""
    with pytest.raises(PhotoError) as caught:
        read_photo(path)
    assert caught.value.exit_code == ExitCode.BAD_PHOTO
    assert caught.value.advice
    for word in words:
        assert word in caught.value.what
    return caught.value


def saved(path, **how):
    Image.fromarray(scene()).save(path, **how)
    return path


def test_no_such_file(tmp_path):
    refused(tmp_path / "gone.jpg", "There is no file", "gone.jpg")


def test_a_folder(tmp_path):
    refused(tmp_path, "is a folder")


def test_an_unreadable_file(tmp_path, monkeypatch):
    path = saved(tmp_path / "a.png")

    def forbidden(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", forbidden)
    refused(path, "a.png", "cannot be read", "Permission denied")


def test_an_empty_file(tmp_path):
    path = tmp_path / "empty.jpg"
    path.touch()
    refused(path, "empty.jpg", "is empty")


@pytest.mark.parametrize("content", [b"x", b"my garden notes\n" * 50, b"\0" * 5000])
def test_not_an_image(tmp_path, content):
    path = tmp_path / "notes.jpg"
    path.write_bytes(content)
    refused(path, "notes.jpg", "not an image", "ending")


@pytest.mark.parametrize("kind", ["GIF", "BMP"])
def test_an_image_of_another_kind_is_named(tmp_path, kind):
    path = saved(tmp_path / "a.jpg", format=kind)
    error = refused(path, "a.jpg", kind)
    assert "JPEG" in error.advice


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.webp", "a.heic"])
@pytest.mark.parametrize("share", [0.5, 0.9])
def test_cut_short(tmp_path, name, share):
    pillow_heif.register_heif_opener()
    rng = np.random.default_rng(1)
    path = tmp_path / name
    Image.fromarray(rng.integers(0, 256, (200, 200, 3), dtype=np.uint8)).save(path)
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * share)])
    refused(path, name, "damaged or was cut short")


@pytest.mark.parametrize("size", [(1, 1), (3000, 20), (99, 400)])
def test_too_small(tmp_path, size):
    path = tmp_path / "small.png"
    Image.new("RGB", size).save(path)
    refused(path, "small.png", f"{size[0]} x {size[1]} px")


@pytest.mark.parametrize("side", [10_001, 12_000, 20_000, 60_000])
def test_too_large_is_told_before_anything_is_decoded(tmp_path, side):
    # The file holds no pixels: whoever decodes it says "damaged".
    path = tmp_path / "large.png"
    path.write_bytes(png_header_only(side, side))
    refused(path, "large.png", "larger than 100 million pixels")


@pytest.mark.parametrize("name", ["a.webp", "a.png", "a.tif"])
def test_animated(tmp_path, name):
    frames = [Image.fromarray(np.roll(scene(), step, axis=0)) for step in (0, 9, 18)]
    path = tmp_path / name
    frames[0].save(path, save_all=True, append_images=frames[1:])
    refused(path, name, "3 pictures")


@pytest.mark.parametrize(
    ("mode", "name"),
    [("CMYK", "a.jpg"), ("CMYK", "a.tif"), ("LAB", "a.tif"), ("F", "a.tif")],
)
def test_other_colour_spaces(tmp_path, mode, name):
    path = tmp_path / name
    Image.new(mode, (200, 200)).save(path)
    error = refused(path, name, mode)
    assert "RGB" in error.advice


def test_out_of_memory(tmp_path, monkeypatch):
    path = saved(tmp_path / "a.png")

    def full(*_):
        raise MemoryError

    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", full)
    refused(path, "a.png", "memory")


class TestFindPhotos:
    def test_a_folder_is_opened_and_sorted(self, tmp_path):
        names = ["b.JPG", "a.heic", "c.Tiff", "d.webp", "e e\u00fc.png"]
        rest = ["notes.txt", ".hidden.jpg", "a.eyefind-sheet.png", "a.truth.png"]
        for name in [*names, *rest, "a.eyefind.json"]:
            (tmp_path / name).touch()
        (tmp_path / "inner.jpg").mkdir()
        assert [path.name for path in find_photos([tmp_path])] == sorted(names)

    def test_files_are_taken_as_they_are_and_once(self, tmp_path):
        odd, gone = tmp_path / "odd.name", tmp_path / "gone.jpg"
        assert find_photos([odd, gone, odd]) == [odd, gone]

    def test_a_folder_without_photos(self, tmp_path):
        (tmp_path / "notes.txt").touch()
        with pytest.raises(PhotoError, match="holds no photo"):
            find_photos([tmp_path])

    def test_a_folder_that_cannot_be_opened(self, tmp_path, monkeypatch):
        def forbidden(*_):
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "iterdir", forbidden)
        with pytest.raises(PhotoError, match="Permission denied"):
            find_photos([tmp_path])


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """Bytes of a small sound photo in every format."""
    pillow_heif.register_heif_opener()
    folder = tmp_path_factory.mktemp("sound")
    paths = [
        saved(folder / f"a{ending}", exif=exif_bytes(6, "2026:11:07 15:04:05"))
        for ending in (".jpg", ".png", ".tif", ".webp", ".heic")
    ]
    return {path.name: path.read_bytes() for path in paths}


@given(
    name=st.sampled_from(["a.jpg", "a.png", "a.tif", "a.webp", "a.heic"]),
    hits=st.lists(
        st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)),
        min_size=1,
        max_size=12,
    ),
)
@settings(max_examples=120, deadline=None)
def test_damaged_bytes_give_a_photo_or_words(tmp_path_factory, sound, name, hits):
    content = bytearray(sound[name])
    for where, value in hits:
        # Squared: most hits fall among the headers.
        content[int(where**2 * len(content))] = value
    path = tmp_path_factory.getbasetemp() / name
    path.write_bytes(content)
    with warnings.catch_warnings(), suppress(PhotoError):
        warnings.simplefilter("error")
        photo = read_photo(path)
        assert photo.rgb.dtype == np.uint8
        assert photo.rgb.shape[2] == 3


def test_heic_is_only_loaded_when_it_is_needed():
    """Nor any window library, whatever is imported of the photo step."""
    code = (
        "import sys, eyefind.photo;"
        "heavy = {'pillow_heif', 'napari', 'qtpy', 'vispy', 'torch'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert told.stdout.strip() == "[]"
