"""The JSON Schema of the record, made from the data classes.

``python -m eyefind.record.schema`` prints it; docs/record.schema.json holds it.
"""

import json
import re
from typing import Any

import msgspec
import numpy as np

from eyefind.data import Record
from eyefind.record.coding import FORMAT, VERSION

NUMBER = {"type": "number"}
PLACE = {
    "type": "array",
    "items": NUMBER,
    "minItems": 2,
    "maxItems": 2,
    "description": "[row, col] in px of the full upright photo",
}
ARRAYS = {
    "_rc_px": PLACE,
    "_px": {"type": "array", "items": PLACE},
    "_mm": {"type": "array", "items": NUMBER},
}
"""What an array is, by the end of its field's name; the first that fits."""
RANGES = {
    "likelihood": {"minimum": 0, "maximum": 1},
    "eye_chance": {"minimum": 0, "maximum": 1},
    "px_per_mm": {"exclusiveMinimum": 0},
    "height_px": {"minimum": 1},
    "width_px": {"minimum": 1},
}


def record_schema() -> dict[str, Any]:
    """Build the JSON Schema (draft 2020-12) of a record.

    Returns
    -------
    dict
        The schema as JSON values.
    """
    schema = msgspec.json.schema(Record, schema_hook=_array)
    for kind in schema["$defs"].values():
        kind["description"] = _first_paragraph(kind["description"])
        for name, field in kind["properties"].items():
            _describe(name, field)
    record = schema["$defs"].pop("Record")
    head = {"format": {"const": FORMAT}, "version": {"const": VERSION}}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **record,
        "title": "Record of one clump",
        "properties": {**head, **record["properties"]},
        "required": [*head, *record["required"]],
        "$defs": schema["$defs"],
    }


def schema_text() -> str:
    """Return the schema as it stands in docs/record.schema.json."""
    return json.dumps(record_schema(), indent=2) + "\n"


def _array(kind: type) -> dict[str, Any]:
    if getattr(kind, "__origin__", kind) is not np.ndarray:
        raise NotImplementedError(f"{kind} has no place in a record")
    return {"type": "array"}


def _describe(name: str, field: dict[str, Any]) -> None:
    """Say what the arrays and numbers of a field are, in place."""
    field.update(RANGES.get(name, {}))
    for form in [field, *field.get("anyOf", [])]:
        if form == {"type": "array"}:
            end = next(end for end in ARRAYS if name.endswith(end))
            form.update(ARRAYS[end])


def _first_paragraph(text: str) -> str:
    return re.sub(r"\s+", " ", text.split("\n\n")[0]).strip()


if __name__ == "__main__":
    print(schema_text(), end="")
