import re
import shutil
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pypdf
import pytest
from PIL import Image
from reportlab.graphics.renderSVG import drawToString

from eyefind.errors import ExitCode, WriteError
from eyefind.photo import find_card, write_card
from eyefind.photo.lamp_drawing import lamp_drawing

MM_PER_PT = 25.4 / 72
SHEETS_MM = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""ISO 216; ANSI Letter is 8.5 x 11 inches."""
DPI = 300


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cards") / "to print"
    return {path.name: path for path in write_card(folder)}


def test_names(written):
    assert list(written) == [
        "eyefind-card-A4.pdf",
        "eyefind-card-letter.pdf",
        "eyefind-card.png",
    ]


@pytest.mark.parametrize("paper", SHEETS_MM)
def test_page_box_and_words(written, paper):
    (page,) = pypdf.PdfReader(written[f"eyefind-card-{paper}.pdf"]).pages
    size_mm = [float(side) * MM_PER_PT for side in page.mediabox[2:]]
    assert size_mm == pytest.approx(SHEETS_MM[paper], abs=0.05)
    words = page.extract_text()
    assert "Print at 100 %" in words
    assert "50 mm" in words
    assert "move the lamp, nothing else" in words
    assert not page.images  # all vector


@pytest.mark.parametrize("paper", SHEETS_MM)
def test_printers_are_told_not_to_scale(written, paper):
    reader = pypdf.PdfReader(written[f"eyefind-card-{paper}.pdf"])
    wish = reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"]
    assert wish == "/None"


@pytest.fixture(scope="module", params=SHEETS_MM)
def printed(request, written, tmp_path_factory):
    """The page as poppler draws it, grey, at 300 dpi."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm (poppler-utils) is not installed: page not rasterised")
    stem = tmp_path_factory.mktemp("page") / request.param
    path = written[f"eyefind-card-{request.param}.pdf"]
    command = ["pdftoppm", "-r", str(DPI), "-gray", "-singlefile", path, stem]
    subprocess.run(command, check=True)
    return np.asarray(Image.open(stem.with_suffix(".pgm")))


def test_the_printed_card_has_its_true_size(printed):
    card = find_card(np.dstack([printed] * 3))
    px_per_mm = DPI / 25.4
    assert card.scale.px_per_mm == pytest.approx(px_per_mm, rel=5e-4)
    assert card.tilt_deg < 0.5
    height, width = np.ptp(card.outline_px, axis=0) / px_per_mm
    assert (width, height) == pytest.approx((120, 80), abs=0.1)


def test_the_check_line_measures_50_mm(printed):
    """The longest level black run outside the card, from tick to tick."""
    card = find_card(np.dstack([printed] * 3))
    bottom = int(card.outline_px[:, 0].max() + 15 * DPI / 25.4)
    below = bottom + int(20 * DPI / 25.4)  # the drawing lies farther down
    dark = (printed[bottom:below] < 128).astype(np.uint8)
    _, _, boxes, _ = cv2.connectedComponentsWithStats(dark)
    width_px = boxes[1:, cv2.CC_STAT_WIDTH].max()
    line_mm = 0.5  # the outer ticks stick out by half a line at either end
    assert width_px * 25.4 / DPI - line_mm == pytest.approx(50, abs=0.15)


def test_the_guide_shows_the_drawing_of_the_card_page(request):
    shown = Path(__file__).parents[2] / "docs" / "pictures" / "lamp-set.svg"
    if request.config.getoption("renew_golden"):
        shown.write_text(drawToString(lamp_drawing()), encoding="utf-8")
    assert shown.read_text(encoding="utf-8") == drawToString(lamp_drawing())


def test_no_seam_shows_in_a_marker(printed):
    card = find_card(np.dstack([printed] * 3))
    top, left = (card.outline_px[0] + 6.3 * DPI / 25.4).astype(int)
    border = printed[top : top + 25, left : left + int(17.4 * DPI / 25.4)]
    assert border.max() < 10


def test_the_picture_has_its_true_size(written):
    image = Image.open(written["eyefind-card.png"])
    assert image.info["dpi"] == pytest.approx((600, 600), abs=0.1)
    size_mm = np.array(image.size) / 600 * 25.4
    assert size_mm == pytest.approx((120, 80), abs=0.03)
    framed = np.pad(np.asarray(image), 60, constant_values=255)
    card = find_card(np.dstack([framed] * 3))
    assert card.scale.px_per_mm == pytest.approx(600 / 25.4, rel=5e-4)


def test_the_same_bytes_every_time(written, tmp_path):
    for path in write_card(tmp_path):
        assert path.read_bytes() == written[path.name].read_bytes()


def test_a_folder_that_cannot_be_made(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(WriteError, match="cannot be written") as caught:
        write_card(tmp_path / "file")
    assert caught.value.exit_code == ExitCode.CANNOT_WRITE


def test_a_full_disk(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", full)
    with pytest.raises(WriteError, match=re.escape("No space left")):
        write_card(tmp_path)
