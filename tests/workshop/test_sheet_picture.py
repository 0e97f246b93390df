"""The README's picture of a sheet is its page, made from a photo."""

import shutil

import numpy as np
import pytest
from PIL import Image
from standins import install, painted_photo
from typer.testing import CliRunner

from eyefind.errors import UsageError
from eyefind.workshop.__main__ import app
from eyefind.workshop.sheet_picture import DPI, write_sheet_picture


def test_the_first_page_is_drawn_and_nothing_left_beside_the_photo(
    tmp_path, monkeypatch
):
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm (poppler-utils) is not installed: page not drawn")
    install(monkeypatch)
    photo, out = painted_photo(tmp_path / "in" / "bed 3.png"), tmp_path / "page.png"
    result = CliRunner().invoke(app, ["sheet-picture", str(photo), "--out", str(out)])
    assert result.exit_code == 0, result.output
    assert list(photo.parent.iterdir()) == [photo]
    page = Image.open(out)
    # A4, ISO 216: 210 mm by 297 mm.
    expected = [round(mm / 25.4 * DPI) for mm in (210, 297)]
    np.testing.assert_allclose(page.size, expected, atol=1)
    # Flags wait for an answer: the black band of the stamp on top, paper below. The
    # last column lies half beside the page.
    grey = np.asarray(page.convert("L"))
    assert (grey[:8, :-1] < 20).all()
    assert (grey[-8:] > 235).all()


def test_a_missing_tool_is_told_before_any_work(tmp_path, monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda _: None)
    with pytest.raises(UsageError, match=r"pdftoppm.*poppler-utils"):
        write_sheet_picture(tmp_path / "none.jpg", tmp_path / "page.png")
