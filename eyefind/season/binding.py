"""Binds the ledger to the records: what changed in them is taken over."""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from eyefind.errors import RecordError
from eyefind.rules import Rules
from eyefind.season.deeds import Deed
from eyefind.season.ledger import Ledger
from eyefind.season.readings import Reading, file_sha256, read_reading, seen_of
from eyefind.season.tables import (
    Clump,
    ClumpPhoto,
    Garden,
    Season,
    StoredPiece,
    Variety,
    Way,
)
from eyefind.season.tags import Tag, write_tag

DERIVED = (
    "eyes",
    "found_eyes",
    "confirmed_eyes",
    "eye_chance",
    "safe",
    "whole",
    "volume_ml",
    "volume_sd_ml",
    "thickest_mm",
    "note",
)
"""Columns of a piece that come from its record."""


def refresh(ledger: Ledger, season: Season, rules: Rules) -> None:
    """Take over what changed in the season's records since the last time.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    rules : Rules
        The rules of the trade.

    Raises
    ------
    WriteError
        If the ledger cannot be written.
    """
    photos = ledger.rows(ClumpPhoto, "season_id = ? AND record_path != ''", season.id)
    touched = [photo for photo in photos if _seen(photo) != photo.record_seen]
    if not touched:
        return
    with ledger.refreshing() as deed:
        changed = [photo for photo in touched if _take_over(deed, photo, rules)]
    renew_clumps(ledger, {p.clump_id for p in changed if p.clump_id}, rules)


def renew_clumps(ledger: Ledger, clump_ids: Iterable[int], rules: Rules) -> None:
    """Set the pieces and ways of clumps anew from their records.

    Of several photos the one counts that was reviewed, then the one with most answers,
    then one that needs no other, then the latest. A clump that was cut keeps the
    pieces that it was cut into.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    clump_ids : iterable of int
        The clumps.
    rules : Rules
        The rules of the trade.
    """
    with ledger.refreshing() as deed:
        for clump_id in clump_ids:
            cut = ledger.row(Clump, clump_id).cut_on is not None
            if not (cut and ledger.rows(StoredPiece, "clump_id = ?", clump_id)):
                best = _best_reading(ledger, clump_id, rules)
                _set_pieces(ledger, deed, clump_id, [] if best is None else best.pieces)
                if best is not None:
                    _set_ways(ledger, deed, clump_id, best.ways)


def tag_clump(ledger: Ledger, clump: Clump) -> None:
    """Write what the ledger holds of a clump into its records.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    clump : Clump
        The clump, as it is in the ledger.

    Raises
    ------
    WriteError
        If a record cannot be written.
    """
    season = ledger.row(Season, clump.season_id)
    variety = clump.variety_id and ledger.row(Variety, clump.variety_id).name
    tag = Tag(
        ledger.row(Garden, season.garden_id).name,
        season.year,
        clump.name,
        clump.code,
        variety or None,
        clump.bed,
        clump.place,
        clump.light,
        clump.lifted_on,
        clump.cut_on,
        clump.note,
    )
    for photo in ledger.rows(ClumpPhoto, "clump_id = ?", clump.id):
        if photo.record_path and Path(photo.record_path).exists():
            try:
                before, after = write_tag(Path(photo.record_path), tag)
            except RecordError:
                # A damaged record is told by `refresh`; the ledger has the words.
                continue
            if before == photo.record_sha256:
                with ledger.refreshing() as deed:
                    deed.change(photo, record_sha256=after)


def undo(ledger: Ledger, rules: Rules) -> str | None:
    """Take back the last deed that stands; pieces and records follow.

    Returns
    -------
    str or None
        What was taken back; None when there is nothing.
    """
    what = ledger.undo()
    _follow(ledger, rules)
    return what


def redo(ledger: Ledger, rules: Rules) -> str | None:
    """Bring back the last deed that was taken back; pieces and records follow.

    Returns
    -------
    str or None
        What was brought back; None when there is nothing.
    """
    what = ledger.redo()
    _follow(ledger, rules)
    return what


def _follow(ledger: Ledger, rules: Rules) -> None:
    """Renew what is derived of the clumps that the deeds around now had touched."""
    moved = {row["clump_id"] for row in ledger.ask(_MOVED) if row["clump_id"]}
    renew_clumps(ledger, moved, rules)
    for clump_id in moved | {row["row_id"] for row in ledger.ask(_TOUCHED)}:
        tag_clump(ledger, ledger.row(Clump, clump_id))


def _seen(photo: ClumpPhoto) -> str:
    try:
        return seen_of(Path(photo.record_path or ""))
    except OSError:
        return "gone"


def _take_over(deed: Deed, photo: ClumpPhoto, rules: Rules) -> bool:
    """Take over a record that was written anew; tell whether it says other things."""
    path, seen = Path(photo.record_path or ""), _seen(photo)
    with suppress(OSError):
        if not photo.failed and file_sha256(path) == photo.record_sha256:
            deed.change(photo, record_seen=seen)
            return False
    try:
        reading = read_reading(path, rules)
    except RecordError as error:
        deed.change(photo, failed=str(error), record_seen=seen)
    else:
        deed.change(photo, **photo_columns(reading))
    return True


def photo_columns(reading: Reading) -> dict[str, str | int | None]:
    """Return the columns of a photo's row that come from its record."""
    return {
        "sha256": reading.photo_sha256,
        "taken_at": reading.taken_at,
        "code": reading.code,
        "record_path": reading.path,
        "record_sha256": reading.sha256,
        "record_seen": reading.seen,
        "again": reading.again,
        "unanswered": reading.unanswered,
        "failed": "",
    }


def _best_reading(ledger: Ledger, clump_id: int, rules: Rules) -> Reading | None:
    readings = []
    for photo in ledger.rows(ClumpPhoto, "clump_id = ? AND failed = ''", clump_id):
        try:
            readings.append(read_reading(Path(photo.record_path or ""), rules))
        except RecordError:
            continue
    return max(
        readings,
        key=lambda r: (r.reviewed, r.answers, not r.again, r.taken_at or "", r.path),
        default=None,
    )


def _set_pieces(
    ledger: Ledger, deed: Deed, clump_id: int, pieces: list[StoredPiece]
) -> None:
    query = "clump_id = ?"
    old = ledger.rows(StoredPiece, query, clump_id)
    old += ledger.rows(StoredPiece, query, clump_id, binned=True)
    by_letter = {piece.letter: piece for piece in old}
    for piece in pieces:
        values = {name: getattr(piece, name) for name in DERIVED}
        former = by_letter.pop(piece.letter, None)
        if former is None:
            deed.add(StoredPiece(clump_id=clump_id, letter=piece.letter, **values))
        else:
            deed.change(former, **values, binned_at=None)
    for gone in by_letter.values():
        if gone.binned_at is None:
            deed.bin(gone)


def _set_ways(ledger: Ledger, deed: Deed, clump_id: int, ways: list[Way]) -> None:
    former = {way.style: way for way in ledger.rows(Way, "clump_id = ?", clump_id)}
    for way in ways:
        if way.style in former:
            deed.change(
                former[way.style],
                cuts=way.cuts,
                chances=way.chances,
                volumes_ml=way.volumes_ml,
            )
        else:
            deed.add(replace(way, clump_id=clump_id))


_AROUND_NOW = """
    SELECT max(id) FROM deed WHERE undone = 0
    UNION SELECT min(id) FROM deed WHERE undone = 1
"""

_TOUCHED = f"""
    SELECT DISTINCT row_id FROM step WHERE name = 'clump' AND deed_id IN ({_AROUND_NOW})
"""

_MOVED = f"""
    SELECT before ->> 'clump_id' AS clump_id FROM step
        WHERE name = 'photo' AND deed_id IN ({_AROUND_NOW})
    UNION SELECT after ->> 'clump_id' FROM step
        WHERE name = 'photo' AND deed_id IN ({_AROUND_NOW})
"""
