"""Opens photos upright, and records with their flags, in napari."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from eyefind.data import Record
from eyefind.photo import read_photo
from eyefind.record import read_record

Layer = tuple[Any, dict[str, Any], str]
RECORD_ENDING = ".eyefind.json"


def reader_for(
    path: str | Sequence[str],
) -> Callable[[str | Sequence[str]], list[Layer]] | None:
    """Offer napari a reader, or None for a stack of files.

    Parameters
    ----------
    path : str or sequence of str
        What napari was asked to open.

    Returns
    -------
    callable or None
        `read_layers` for one file.
    """
    return read_layers if isinstance(path, str) else None


def read_layers(path: str | Sequence[str]) -> list[Layer]:
    """Read a photo, or a record with the photo beside it.

    Parameters
    ----------
    path : str
        A photo or a ``NAME.eyefind.json``.

    Returns
    -------
    list of layer data tuples
        The upright photo as an image; for a record also its flags as points, with
        id, kind and likelihood as features.

    Raises
    ------
    PhotoError, RecordError
        If a file cannot be read; napari shows the message.
    """
    file = Path(str(path))
    if not file.name.endswith(RECORD_ENDING):
        return [_image(file)]
    record = read_record(file)
    return [_image(file.parent / record.photo.file), _flags(record)]


def _image(file: Path) -> Layer:
    photo = read_photo(file)
    return photo.rgb, {"name": photo.file, "rgb": True}, "image"


def _flags(record: Record) -> Layer:
    places = [(flag.row_px, flag.col_px) for flag in record.flags]
    features = {
        "id": [flag.id for flag in record.flags],
        "kind": [flag.kind for flag in record.flags],
        "likelihood": [flag.likelihood for flag in record.flags],
    }
    kwargs = {
        "name": "flags",
        "features": features,
        "face_color": "transparent",
        "border_color": "white",
        "size": 8 * record.scale.px_per_mm,
        "text": {"string": "{id}", "color": "white", "anchor": "upper_left"},
    }
    return np.array(places, dtype=float).reshape(-1, 2), kwargs, "points"
