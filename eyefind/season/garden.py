"""Gardens, seasons, varieties and clumps by the names that a grower types."""

import re
from collections.abc import Mapping
from pathlib import Path

from eyefind.errors import UsageError
from eyefind.rules import Rules
from eyefind.season.binding import renew_clumps, tag_clump
from eyefind.season.ledger import Ledger
from eyefind.season.tables import (
    Box,
    Clump,
    ClumpPhoto,
    Garden,
    Season,
    StoredPiece,
    Variety,
    Wish,
)

PIECE_NAME = re.compile(r"(?P<clump>.+?)[- ]?(?P<letter>[A-Z]{1,2})", re.DOTALL)


def start_season(ledger: Ledger, garden_name: str, year: int) -> Season:
    """Start a season; the garden is made when it is new.

    Wanted counts of the season before are taken over: they can be changed.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    garden_name : str
        Name of the garden.
    year : int
        Year of the autumn.

    Returns
    -------
    Season
        The season.

    Raises
    ------
    UsageError
        If there is one already.
    """
    with ledger.deed(f"season {year} of {garden_name} started") as deed:
        found = ledger.rows(Garden, "name = ?", garden_name)
        garden = found[0] if found else deed.add(Garden(name=garden_name))
        former = ledger.rows(Season, "garden_id = ? AND year < ?", garden.id, year)
        season = deed.add(Season(garden_id=garden.id, year=year))
        if former:
            last = max(former, key=lambda season: season.year)
            for wish in ledger.rows(Wish, "season_id = ?", last.id):
                deed.add(
                    Wish(
                        season_id=season.id,
                        variety_id=wish.variety_id,
                        wanted=wish.wanted,
                        give_away=wish.give_away,
                    )
                )
    return season


def find_season(
    ledger: Ledger, year: int | None = None, garden_name: str | None = None
) -> Season:
    """Return a season; the latest when no year is given.

    Raises
    ------
    UsageError
        If there is none, or it is not clear of which garden.
    """
    gardens = {garden.id: garden.name for garden in ledger.rows(Garden)}
    found = [
        season
        for season in ledger.rows(Season)
        if (year is None or season.year == year)
        and (garden_name is None or gardens.get(season.garden_id) == garden_name)
    ]
    if not found:
        raise UsageError(
            "The ledger has no such season.",
            "Start one with: eyefind season start GARDEN --year YEAR",
        )
    latest = max(season.year for season in found)
    found = [season for season in found if season.year == latest]
    if len(found) > 1:
        names = ", ".join(gardens[season.garden_id] for season in found)
        raise UsageError(
            f"Several gardens have a season {latest}: {names}.", "Give --garden NAME."
        )
    return found[0]


def find_variety(ledger: Ledger, season: Season, name: str) -> Variety:
    """Return the variety of this name, whatever its capitals.

    Raises
    ------
    UsageError
        If there is none.
    """
    known = ledger.rows(Variety, "garden_id = ?", season.garden_id)
    for variety in known:
        if variety.name.casefold() == name.casefold():
            return variety
    names = ", ".join(sorted(variety.name for variety in known)) or "none yet"
    raise UsageError(
        f"There is no variety {name}.",
        f"The varieties are: {names}. Add one with: eyefind season variety NAME",
    )


def set_wish(
    ledger: Ledger,
    season: Season,
    name: str,
    wanted: int | None = None,
    give_away: int | None = None,
    note: str | None = None,
) -> Variety:
    """Say how many plants of a variety are wanted; the variety is made when new.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    name : str
        Name of the variety.
    wanted, give_away : int or None
        Plants for next year and to give away; None leaves them as they are.
    note : str or None
        A note on the variety.

    Returns
    -------
    Variety
        The variety.
    """
    given = {"wanted": wanted, "give_away": give_away}
    given = {key: value for key, value in given.items() if value is not None}
    with ledger.deed(f"{name}: {_said(given)}") as deed:
        try:
            variety = find_variety(ledger, season, name)
        except UsageError:
            variety = deed.add(Variety(garden_id=season.garden_id, name=name))
        if note is not None:
            variety = deed.change(variety, note=note)
        found = ledger.rows(
            Wish, "season_id = ? AND variety_id = ?", season.id, variety.id
        )
        wish = (
            found[0]
            if found
            else deed.add(Wish(season_id=season.id, variety_id=variety.id))
        )
        deed.change(wish, **given)
    return variety


def find_clump(ledger: Ledger, season: Season, name: str) -> Clump:
    """Return a clump by its name, its code, or the number of its card.

    Raises
    ------
    UsageError
        If there is none.
    """
    code = f"EYE-{int(name):04d}" if name.isdecimal() else name.upper()
    query = "season_id = ? AND (name = ? OR code = ? OR name = ?)"
    for clump in ledger.rows(Clump, query, season.id, name, code, code):
        return clump
    raise UsageError(
        f"There is no clump {name} in {season.year}.",
        "eyefind season clumps lists them all.",
    )


def find_box(ledger: Ledger, season: Season, name: str) -> Box:
    """Return the box of this name.

    Raises
    ------
    UsageError
        If there is none.
    """
    boxes = ledger.rows(Box, "season_id = ?", season.id)
    for box in boxes:
        if box.name == name:
            return box
    names = ", ".join(box.name for box in boxes) or "none yet"
    raise UsageError(f"There is no box {name}.", f"The boxes are: {names}.")


def set_box(
    ledger: Ledger, season: Season, name: str, litres: float, note: str = ""
) -> Box:
    """Add a box to the store, or change the one of this name.

    Raises
    ------
    UsageError
        If it holds nothing.
    """
    if not 0 < litres < float("inf"):
        raise UsageError(f"A box of {litres:g} litres makes no sense.", "Give litres.")
    with ledger.deed(f"box {name}, {litres:g} l") as deed:
        try:
            box = find_box(ledger, season, name)
        except UsageError:
            return deed.add(
                Box(season_id=season.id, name=name, litres=litres, note=note)
            )
        return deed.change(box, litres=litres, note=note or box.note)


def all_pieces(ledger: Ledger, season: Season) -> list[StoredPiece]:
    """Return every piece of a season that is not gone."""
    query = "id IN (SELECT id FROM piece_seen WHERE season_id = ? AND NOT gone)"
    return ledger.rows(StoredPiece, query, season.id)


def find_photo(ledger: Ledger, season: Season, name: str) -> ClumpPhoto:
    """Return a photo by its file name, with or without ending, or its path.

    Raises
    ------
    UsageError
        If there is none, or several.
    """
    photos = ledger.rows(ClumpPhoto, "season_id = ?", season.id)
    found = [
        photo
        for photo in photos
        if name in (photo.path, Path(photo.path).name, Path(photo.path).stem)
    ]
    if len(found) != 1:
        raise UsageError(
            f"There are {len(found)} photos {name} in {season.year}.",
            "Give its whole path; eyefind season clumps lists the photos.",
        )
    return found[0]


def find_piece(ledger: Ledger, season: Season, name: str) -> StoredPiece:
    """Return a piece by its clump and letter: ``17-B``, ``EYE-0017-B``, ``IMG_3-A``.

    The year may stand in front of the number as on the label: ``EYE-2026-0017-B``.

    Raises
    ------
    UsageError
        If there is none.
    """
    plain = re.sub(rf"^EYE-{season.year}-", "EYE-", name.strip(), flags=re.IGNORECASE)
    said = PIECE_NAME.fullmatch(plain) or PIECE_NAME.fullmatch(plain.upper())
    if said is None:
        raise UsageError(
            f"{name} is no piece.", "A piece is its clump and its letter, such as 17-B."
        )
    clump = find_clump(ledger, season, said["clump"])
    query = "clump_id = ? AND letter = ?"
    for piece in ledger.rows(StoredPiece, query, clump.id, said["letter"]):
        return piece
    letters = [p.letter for p in ledger.rows(StoredPiece, "clump_id = ?", clump.id)]
    raise UsageError(
        f"Clump {clump.name} has no piece {said['letter']}.",
        f"Its pieces are: {', '.join(letters) or 'none yet'}.",
    )


def set_clumps(
    ledger: Ledger,
    season: Season,
    names: list[str],
    values: Mapping[str, str],
    rules: Rules,
) -> list[Clump]:
    """Say something of clumps; those named by a card number are made when new.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    names : list of str
        Clumps, see `find_clump`.
    values : mapping
        Columns of `Clump`; ``variety`` is a variety's name.
    rules : Rules
        The rules of the trade.

    Returns
    -------
    list of Clump
        The clumps as they now are; their records say so too.
    """
    columns: dict[str, object] = {k: v for k, v in values.items() if k != "variety"}
    if "variety" in values:
        columns["variety_id"] = find_variety(ledger, season, values["variety"]).id
    clumps = []
    with ledger.deed(f"clumps {', '.join(names)}: {_said(values)}") as deed:
        for name in names:
            try:
                clump = find_clump(ledger, season, name)
            except UsageError:
                if not name.isdecimal():
                    raise
                code = f"EYE-{int(name):04d}"
                clump = deed.add(Clump(season_id=season.id, name=code, code=code))
            clumps.append(deed.change(clump, **columns))
    if "cut_on" in values:
        renew_clumps(ledger, [clump.id for clump in clumps], rules)
    for clump in clumps:
        tag_clump(ledger, clump)
    return clumps


def _said(values: Mapping[str, object]) -> str:
    return ", ".join(
        f"{key.replace('_', ' ')} {value}" for key, value in values.items()
    )
