"""The record of one clump on disk: ``NAME.eyefind.json`` (docs/record.md)."""

from eyefind.record.files import hold, set_aside, write_bytes
from eyefind.record.salvage import Salvage, salvage
from eyefind.record.store import (
    DamagedRecordError,
    Stored,
    add_decisions,
    check_same_photo,
    open_record,
    put_plan,
    read_record,
    record_path,
    write_record,
)

__all__ = [
    "DamagedRecordError",
    "Salvage",
    "Stored",
    "add_decisions",
    "check_same_photo",
    "hold",
    "open_record",
    "put_plan",
    "read_record",
    "record_path",
    "salvage",
    "set_aside",
    "write_bytes",
    "write_record",
]
