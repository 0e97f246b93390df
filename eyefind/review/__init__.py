"""The grower's word on every flag: an append-only list of decisions, folded."""

from eyefind.review.carry import carry_over
from eyefind.review.fold import (
    flags_in_force,
    mends_in_force,
    notes_in_force,
    sides_in_force,
    standing,
    undoable,
)
from eyefind.review.force import in_force
from eyefind.review.review import Review

__all__ = [
    "Review",
    "carry_over",
    "flags_in_force",
    "in_force",
    "mends_in_force",
    "notes_in_force",
    "sides_in_force",
    "standing",
    "undoable",
]
