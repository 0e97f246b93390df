"""A record as the grower's words have it: for everything that plans and draws."""

from dataclasses import replace

from eyefind.data import Record
from eyefind.look.mend import mended
from eyefind.review.fold import flags_in_force, mends_in_force


def in_force(record: Record) -> Record:
    """Return the record with flags and anatomy as the decisions now stand.

    Parameters
    ----------
    record : Record
        As it is on disk: what was found, and every word since.

    Returns
    -------
    Record
        Flags moved, resized, tied anew or gone; the anatomy put right. Decisions
        and plan as they were.
    """
    flags = flags_in_force(record.flags, record.decisions)
    mends = mends_in_force(record.decisions)
    if not mends:
        return replace(record, flags=flags)
    anatomy, new_ids = mended(record.anatomy, mends, record.scale)
    tied = [
        replace(flag, belongs_to=new_ids.get(flag.belongs_to or "", flag.belongs_to))
        for flag in flags
    ]
    return replace(record, flags=tied, anatomy=anatomy)
