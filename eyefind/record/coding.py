"""A record as JSON values, and back.

Arrays become lists: one decimal, thus 0.1 px and 0.1 mm. Other numbers named
``_px`` keep one decimal too; every other float keeps four significant digits, which
is finer than anything that is measured on a photograph.
"""

import math
from typing import Any, TypeVar

import msgspec
import numpy as np

from eyefind.data import Record

FORMAT = "eyefind-record"
VERSION = 2
"""2 brought the frames of a lamp set and the sides of a clump; records of version 1 are
still read."""

SELDOM = ("change", "mend", "side", "joined", "moved")
"""Fields of decisions, flags and cuts that are written only where they say something:
most decisions are plain answers, and there are hundreds in a season."""

T = TypeVar("T")
Fields = dict[str, Any]


def to_fields(value: object) -> Any:
    """Turn data of `eyefind.data` into JSON values, rounded.

    Parameters
    ----------
    value : object
        A dataclass of `eyefind.data`.

    Returns
    -------
    dict
        Its fields as JSON values.

    Raises
    ------
    ValueError
        If a number is infinite or not a number: JSON has no word for it.
    """
    return _rounded("", msgspec.to_builtins(value, enc_hook=_array_to_lists))


def from_fields(fields: object, kind: type[T]) -> T:
    """Turn JSON values back into data of `eyefind.data`.

    Parameters
    ----------
    fields : object
        JSON values.
    kind : type
        Class to build.

    Returns
    -------
    object
        An instance of `kind`; unknown fields are passed over.

    Raises
    ------
    msgspec.ValidationError
        If a field is missing or of the wrong type.
    """
    return msgspec.convert(fields, kind, dec_hook=_lists_to_array)


def record_fields(record: Record) -> Fields:
    """Return all fields of the file that holds `record`.

    Decisions and flags come first: whatever cuts the file short, they are the last
    to go.
    """
    fields: Fields = to_fields(record)
    head = {"format": FORMAT, "version": VERSION, "photo": fields["photo"]}
    words = {name: fields[name] for name in ("decisions", "flags")}
    return {**head, **words, **fields}


def to_bytes(fields: Fields) -> bytes:
    """Write the fields as JSON text: one line for each, UTF-8."""
    lines = (
        f"{msgspec.json.encode(name).decode()}: {msgspec.json.encode(value).decode()}"
        for name, value in fields.items()
    )
    return ("{\n" + ",\n".join(lines) + "\n}\n").encode()


def _array_to_lists(value: object) -> object:
    if not isinstance(value, np.ndarray):
        raise NotImplementedError(f"{type(value)} has no place in a record")
    if not np.isfinite(value).all():
        raise ValueError("a place or width in the record is not a finite number")
    # Adding 0.0 turns -0.0 into 0.0.
    return (np.round(value.astype(float), 1) + 0.0).tolist()


def _lists_to_array(kind: type, value: object) -> object:
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError) as error:
        raise ValueError("expected lists of numbers of one length") from error
    flat = array.ndim == 1 or (array.ndim == 2 and array.shape[1] == 2)
    if not flat or not np.isfinite(array).all():
        raise ValueError("expected [row, col] pairs or numbers")
    return array if array.size else np.empty((0, 2))


def _rounded(name: str, value: Any) -> Any:
    if isinstance(value, dict):
        return {
            key: _rounded(key, item)
            for key, item in value.items()
            if item or key not in SELDOM
        }
    if isinstance(value, list):
        # Lists that were arrays are rounded already.
        if value and isinstance(value[0], dict):
            return [_rounded(name, item) for item in value]
        return value
    if not isinstance(value, float):
        return value
    if not math.isfinite(value):
        raise ValueError(f"{name} is {value}, not a finite number")
    return round(value, 1) + 0.0 if name.endswith("_px") else float(f"{value:.4g}")
