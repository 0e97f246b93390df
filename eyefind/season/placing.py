"""Photos find their clumps, and the grower corrects it."""

from itertools import count

from eyefind.rules import Rules
from eyefind.season.binding import renew_clumps, tag_clump
from eyefind.season.deeds import Deed
from eyefind.season.grouping import Group, Seen, group_photos
from eyefind.season.ledger import Ledger
from eyefind.season.tables import Clump, ClumpPhoto, Season


def place_new(ledger: Ledger, season: Season, rules: Rules) -> list[Clump]:
    """Place the photos that belong to no clump yet; what was placed before stays.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    rules : Rules
        ``same_clump_gap_s`` is the longest time between two photos of one clump.

    Returns
    -------
    list of Clump
        The clumps that gained a photo.
    """
    photos = ledger.rows(ClumpPhoto, "season_id = ? AND failed = ''", season.id)
    by_path = {photo.path: photo for photo in photos}
    if all(photo.clump_id for photo in photos):
        return []
    seen = [Seen(photo.path, photo.taken_at, photo.code) for photo in photos]
    gained = {}
    with ledger.refreshing() as deed:
        for group in group_photos(seen, rules.value("same_clump_gap_s")):
            new = [
                (by_path[photo.path], placed_by)
                for photo, placed_by in group.photos
                if by_path[photo.path].clump_id is None
            ]
            if new:
                clump = _clump_of(ledger, deed, season, group, by_path)
                gained[clump.id] = clump
                for photo, placed_by in new:
                    deed.change(photo, clump_id=clump.id, placed_by=placed_by)
    renew_clumps(ledger, gained, rules)
    for clump in gained.values():
        tag_clump(ledger, clump)
    return list(gained.values())


def move_photo(
    ledger: Ledger, photo: ClumpPhoto, clump: Clump | None, rules: Rules
) -> Clump:
    """Put a photo to another clump, or to a new one; that stays whatever comes.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    photo : ClumpPhoto
        The photo.
    clump : Clump or None
        Its clump; None makes one of its own.
    rules : Rules
        The rules of the trade.

    Returns
    -------
    Clump
        The clump that it now belongs to.
    """
    season = ledger.row(Season, photo.season_id)
    former = None if photo.clump_id is None else ledger.row(Clump, photo.clump_id)
    name = Seen(photo.path).stem
    goal = "a clump of its own" if clump is None else clump.name
    with ledger.deed(f"photo {name} to {goal}") as deed:
        if clump is None:
            free = _free_name(ledger, season, name)
            clump = deed.add(Clump(season_id=season.id, name=free))
        deed.change(photo, clump_id=clump.id, placed_by="grower")
        if former is not None and _is_bare(ledger, former):
            deed.bin(former)
    renew_clumps(ledger, {clump.id, former.id if former else clump.id}, rules)
    tag_clump(ledger, clump)
    return clump


def _is_bare(ledger: Ledger, clump: Clump) -> bool:
    """Tell whether nothing is left of a clump: no photo, no word of the grower."""
    typed = (clump.code, clump.variety_id, clump.bed, clump.note, clump.cut_on)
    return not any(typed) and not ledger.rows(ClumpPhoto, "clump_id = ?", clump.id)


def _clump_of(
    ledger: Ledger,
    deed: Deed,
    season: Season,
    group: Group,
    by_path: dict[str, ClumpPhoto],
) -> Clump:
    """Return a group's clump: that of its code, of a photo placed before, or new."""
    if group.code:
        for clump in ledger.rows(
            Clump, "season_id = ? AND code = ?", season.id, group.code
        ):
            return clump
    for photo, _ in group.photos:
        clump_id = by_path[photo.path].clump_id
        if clump_id and not group.code:
            return ledger.row(Clump, clump_id)
    name = _free_name(ledger, season, group.name)
    return deed.add(Clump(season_id=season.id, name=name, code=group.code))


def _free_name(ledger: Ledger, season: Season, wanted: str) -> str:
    taken = {clump.name for clump in ledger.rows(Clump, "season_id = ?", season.id)}
    names = (wanted if number == 1 else f"{wanted} {number}" for number in count(1))
    return next(name for name in names if name not in taken)
