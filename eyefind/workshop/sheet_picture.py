"""Makes the picture of a sheet in the README and the docs from a sample."""

import shutil
import subprocess
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image

from eyefind.errors import UsageError
from eyefind.job import Job
from eyefind.record import write_bytes
from eyefind.rules import load_rules

DPI = 80
"""An A4 page is then 662 px wide, which a README shows at full size."""
COLOURS = 256
"""Of the palette: fewer lose the yellow and blue of small marks."""


def write_sheet_picture(photo_path: Path, out: Path) -> None:
    """Do the whole job on a photo and write its sheet as a picture.

    Parameters
    ----------
    photo_path : Path
        The photo; nothing is written beside it.
    out : Path
        PNG file to write.

    Raises
    ------
    EyefindError
        If the photo cannot be used, a file cannot be written or poppler's
        ``pdftoppm``, which draws the page, is not installed.
    """
    if shutil.which("pdftoppm") is None:
        raise UsageError(
            "pdftoppm, which draws the page, is not installed.",
            "Install poppler-utils; tests/run does so on Debian and Ubuntu.",
        )
    with TemporaryDirectory() as folder:
        done = Job(load_rules(), Path(folder)).sheet(photo_path)
        pages = done.sheets[0]
        page = pages.with_suffix("")
        draw = ["pdftoppm", "-r", str(DPI), "-singlefile", "-png"]
        subprocess.run([*draw, str(pages), str(page)], check=True)
        picture = Image.open(page.with_name(f"{page.name}.png")).convert("RGB")
    stream = BytesIO()
    picture.quantize(COLOURS, Image.Quantize.FASTOCTREE).save(
        stream, "PNG", optimize=True
    )
    write_bytes(out, stream.getvalue())
