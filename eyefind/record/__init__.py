"""The record of one clump on disk: ``NAME.eyefind.json`` (docs/record.md)."""

from eyefind.record.files import hold, set_aside, write_bytes
from eyefind.record.salvage import Salvage, salvage
from eyefind.record.store import (
    DamagedRecordError,
    add_decisions,
    check_same_photo,
    put_plan,
    read_record,
    record_path,
    write_record,
)

__all__ = [
    "DamagedRecordError",
    "Salvage",
    "add_decisions",
    "check_same_photo",
    "hold",
    "put_plan",
    "read_record",
    "record_path",
    "salvage",
    "set_aside",
    "write_bytes",
    "write_record",
]
