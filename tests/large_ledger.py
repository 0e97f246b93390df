"""A ledger of 20 seasons of 600 clumps each, written as fast as SQLite can."""

from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path

from eyefind.season.ledger import Ledger
from eyefind.season.tables import (
    TABLES,
    Box,
    Clump,
    ClumpPhoto,
    Garden,
    Growth,
    Row,
    Season,
    StoreCheck,
    StoredPiece,
    Variety,
    Way,
    Wish,
)

SEASONS, CLUMPS, VARIETIES, BOXES, PIECES = 20, 600, 60, 30, 3


def write_large_ledger(path: Path) -> None:
    """Write it: each clump with a photo, three pieces that were checked, four ways."""
    first_year = 2007
    rows: list[Row] = [Garden(id=1, name="Quillfold")]
    kinds = range(1, VARIETIES + 1)
    rows += [Variety(id=kind, garden_id=1, name=f"V{kind}") for kind in kinds]
    for number in range(SEASONS):
        season = number + 1
        rows.append(Season(id=season, garden_id=1, year=first_year + number))
        first = number * VARIETIES
        rows += [
            Wish(id=first + kind, season_id=season, variety_id=kind, wanted=9)
            for kind in kinds
        ]
        rows += [
            Box(id=number * BOXES + n + 1, season_id=season, name=f"B{n}", litres=40.0)
            for n in range(BOXES)
        ]
        for n in range(CLUMPS):
            rows += _clump(number * CLUMPS + n + 1, season, n)
    with Ledger(path) as ledger:
        for kind in TABLES:
            _put(ledger, [row for row in rows if type(row) is kind])


def _clump(clump: int, season: int, n: int) -> list[Row]:
    day = f"{2006 + season}-11-08"
    code = f"EYE-{n + 1:04d}"
    found: list[Row] = [
        Clump(
            id=clump,
            season_id=season,
            name=code,
            code=code,
            variety_id=n % VARIETIES + 1,
            bed=str(n % 7),
            cut_on=day if n % 2 else None,
        ),
        ClumpPhoto(
            id=clump,
            season_id=season,
            clump_id=clump,
            path=f"/photos/{season}/IMG_{n:04d}.jpg",
            code=code,
            placed_by="code",
            unanswered=n % 3,
        ),
    ]
    for style, pieces in (
        ("whole", 1),
        ("stems", 2),
        ("singles", PIECES),
        ("least", 2),
    ):
        way = Way(
            clump_id=clump,
            style=style,
            cuts=pieces - 1,
            chances=str([0.9, 0.8, 0.6][:pieces]),
            volumes_ml=str([600 // pieces] * pieces),
        )
        found.append(way)
    for k in range(PIECES):
        piece = (clump - 1) * PIECES + k + 1
        found.append(
            StoredPiece(
                id=piece,
                clump_id=clump,
                letter="ABC"[k],
                eyes=1,
                found_eyes=1,
                confirmed_eyes=k % 2,
                eye_chance=0.9 - 0.2 * k,
                safe=k == 0,
                whole=False,
                volume_ml=200.0,
                volume_sd_ml=40.0,
                thickest_mm=30.0,
                box_id=(season - 1) * BOXES + n % BOXES + 1,
                layer="middle",
            )
        )
        for result in ("sound", "soft" if piece % 11 == 0 else "sound"):
            found.append(StoreCheck(piece_id=piece, on_day=day, result=result))
        if piece % 2:
            shot = "shot" if piece % 10 else "blind"
            found.append(Growth(piece_id=piece, on_day=day, outcome=shot))
    return found


def _put(ledger: Ledger, rows: Sequence[Row]) -> None:
    names = [field.name for field in fields(rows[0])]
    values = [[getattr(row, name) for name in names] for row in rows]
    for number, line in enumerate(values, 1):
        line[names.index("id")] = rows[number - 1].id or number
    marks = ", ".join("?" * len(names))
    query = f"INSERT INTO {TABLES[type(rows[0])]} ({', '.join(names)}) VALUES ({marks})"
    ledger._db.execute("BEGIN")
    ledger._db.executemany(query, values)
    ledger._db.execute("COMMIT")
