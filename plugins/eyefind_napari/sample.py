"""The sample clump in napari's menu."""

import shutil
from pathlib import Path

from platformdirs import user_data_path

from eyefind_napari.reader import Layer, read_layers

NAME = "bed1-lantern-moth-2.jpg"


def sample_path() -> Path:
    """Return the sample photo: within the package, or in the source folder."""
    here = Path(__file__).parent
    installed = here / "sample_images" / NAME
    return installed if installed.exists() else here.parents[1] / "sample_images" / NAME


def own_sample() -> Path:
    """Return a copy of the sample photo in the user's folder, to be answered there."""
    folder = user_data_path("eyefind", appauthor=False, ensure_exists=True) / "sample"
    folder.mkdir(exist_ok=True)
    copy = folder / NAME
    if not copy.exists():
        shutil.copyfile(sample_path(), copy)
    return copy


def sample_clump() -> list[Layer]:
    """Return the photo of a rendered clump (see sample_images/SOURCES.md).

    Returns
    -------
    list of layer data tuples
        One image.
    """
    return read_layers(str(sample_path()))
