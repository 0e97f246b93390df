"""What the photos of other sides add to the plan of the main photo."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from shapely import LineString, Point

from eyefind.data import Flag, Plan, Points, Record, Says, Side, Style, Tuber
from eyefind.errors import EyefindError
from eyefind.look.mend import tuber_at
from eyefind.plan import make_plan
from eyefind.record import read_record
from eyefind.review import in_force, sides_in_force, standing
from eyefind.rules import Rules


@dataclass(frozen=True, eq=False)
class Far:
    """The flags of all other sides, tied to the tubers of the main photo.

    Attributes
    ----------
    flags : list of Flag
        Their ids say the side, ``"E1 (side 2)"``. Where an eye lies on the main photo
        nobody knows: it is put at its tuber's neck.
    words : dict of str to str
        The grower's word on them.
    warnings : list of str
        Sides that could not be read.
    """

    flags: list[Flag] = field(default_factory=list)
    words: dict[str, Says] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)


NOTHING = Far()


def read_far(record: Record, folder: Path) -> Far:
    """Read what the other sides of a clump show.

    Parameters
    ----------
    record : Record
        The main record, as it is on disk.
    folder : Path
        Where it and the records of the sides lie.

    Returns
    -------
    Far
        Flags without a tuber, or on one that has no partner, are not in it.
    """
    far = Far()
    main = in_force(record)
    for number, side in enumerate(sides_in_force(record.decisions), 2):
        try:
            other = read_record(folder / side.record)
        except EyefindError:
            far.warnings.append(_not_read(side, number))
            continue
        if other.photo.sha256 != side.sha256:
            far.warnings.append(_not_read(side, number))
            continue
        words = standing(other.flags, other.decisions)
        for flag, seen in _seen_from(main, in_force(other), side, number):
            far.flags.append(seen)
            if flag.id in words:
                far.words[seen.id] = words[flag.id]
    return far


def plan_of_all(
    record: Record,
    words: dict[str, Says],
    far: Far,
    style: Style,
    rules: Rules,
    most_pieces: int | None = None,
    room_l: float | None = None,
) -> Plan:
    """Make one plan from the main photo and all other sides.

    Parameters
    ----------
    record : Record
        The main one, with flags and anatomy in force.
    words : dict
        Answer by flag id.
    far : Far
        What the other sides add.
    style : str
        Style of the plan.
    rules : Rules
        The rules of the trade.
    most_pieces : int, optional
        No more pieces than this.
    room_l : float, optional
        Room left in the store, litres.

    Returns
    -------
    Plan
        The plan.
    """
    plan = make_plan(
        record.anatomy,
        [*record.flags, *far.flags],
        {**words, **far.words},
        record.scale,
        style,
        rules,
        most_pieces,
        room_l,
    )
    return replace(plan, warnings=[*far.warnings, *plan.warnings])


def _seen_from(
    main: Record, other: Record, side: Side, number: int
) -> Iterator[tuple[Flag, Flag]]:
    """Give each flag of a side whose tuber has a partner, and that flag tied to it."""
    ours: dict[str, tuple[Tuber, Tuber]] = {}
    for row, col, far_row, far_col in side.places_px:
        here = tuber_at(main.anatomy, Point(row, col), main.scale)
        there = tuber_at(other.anatomy, Point(far_row, far_col), other.scale)
        if here is not None and there is not None:
            ours[there.id] = here, there
    for flag in other.flags:
        if flag.belongs_to in ours:
            here, there = ours[flag.belongs_to]
            along_mm = _past_neck(there, flag) / other.scale.px_per_mm
            row, col = _place(here, flag, along_mm * main.scale.px_per_mm)
            yield (
                flag,
                replace(
                    flag,
                    id=f"{flag.id} (side {number})",
                    row_px=float(row),
                    col_px=float(col),
                    belongs_to=here.id,
                    outline_px=None,
                    side=number,
                ),
            )


def _past_neck(tuber: Tuber, flag: Flag) -> float:
    """Return how far beyond its tuber's neck a flag lies, px along the axis."""
    if len(tuber.axis_px) < 2:
        return 0.0
    axis = LineString(tuber.axis_px)
    at = axis.project(Point(flag.row_px, flag.col_px))
    return float(at - axis.project(Point(tuber.neck_rc_px)))


def _place(tuber: Tuber, flag: Flag, past_neck_px: float) -> Points:
    """Return where a flag of a side lies on the main photo, as far as is known."""
    if flag.kind == "eye" or len(tuber.axis_px) < 2:
        return tuber.neck_rc_px
    axis = LineString(tuber.axis_px)
    along = axis.project(Point(tuber.neck_rc_px)) + past_neck_px
    return np.array(axis.interpolate(max(along, 0.0)).coords[0])


def _not_read(side: Side, number: int) -> str:
    return (
        f"Side {number}, {side.file}, does not count: its record {side.record} cannot "
        "be read here, or is that of another picture. Put it back beside this one."
    )
