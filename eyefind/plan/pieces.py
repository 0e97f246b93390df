"""Pieces: their outlines, letters and what to know about each."""

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely import Polygon

from eyefind.data import Flag, Piece, Points
from eyefind.plan import words
from eyefind.plan.division import Part, Unit, is_sound, volume_ml
from eyefind.plan.parts import Body, by_number
from eyefind.plan.shapes import apart, bearing, joined, points_of
from eyefind.plan.standing import Eye, chance_of_an_eye
from eyefind.rules import Rules

STEM_SHARE = 0.25
"""A piece has a stem if it holds this share of its stub."""


def letter(number: int) -> str:
    """Return the letter of a piece, counted from 0: A ... Z, AA, AB ..."""
    name = ""
    while number >= 0:
        name = chr(ord("A") + number % 26) + name
        number = number // 26 - 1
    return name


def clockwise(leaves: Sequence[Part], outlines: Sequence[Polygon]) -> list[int]:
    """Return the order of the pieces: clockwise from the top, around their middle."""
    middles = [
        np.array(outline.centroid.coords[0]) if not outline.is_empty else np.zeros(2)
        for outline in outlines
    ]
    cores = [part.core for part in leaves if not part.core.is_empty]
    if cores:
        hub: Points = np.array(shapely.union_all(cores).centroid.coords[0])
    else:
        hub = np.mean(middles, axis=0)
    angles = [float(bearing(hub, middle)) for middle in middles]
    return sorted(range(len(leaves)), key=lambda k: angles[k])


def outlines_of(leaves: Sequence[Part]) -> list[Polygon]:
    """Return one polygon a piece, none overlapping another.

    Where a tuber is drawn over the crown of another piece, the crown has it: there
    sit the eyes.
    """
    shapes = []
    cores = np.array([part.core for part in leaves], dtype=object)
    for number, part in enumerate(leaves):
        others = np.delete(cores, number)
        bodies = [
            unit.shape.difference(shapely.union_all(others[over]))
            if (over := shapely.intersects(others, unit.shape)).any()
            else unit.shape
            for unit in part.units
        ]
        middle = [part.core]
        if part.core.is_empty:
            middle = [stem.shape for stem in part.stems]
        shapes.append(joined([*middle, *bodies]))
    return apart(shapes)


def lettered(
    leaves: Sequence[Part],
    bodies: Mapping[str, Body],
    doubts: Sequence[Flag],
    clump_outline: Polygon,
    rules: Rules,
) -> tuple[list[Piece], dict[int, str]]:
    """Describe every piece, clockwise from the top.

    Parameters
    ----------
    leaves : sequence of Part
        The pieces.
    bodies : mapping of str to Body
        All tubers that stay.
    doubts : sequence of Flag
        Flags of removal that are to be looked at first.
    clump_outline : Polygon
        Outline of a piece of which nothing was made out.
    rules : Rules
        The rules.

    Returns
    -------
    pieces : list of Piece
        A, B, C ...
    letters : dict of int to str
        ``id`` of each leaf -> its letter.
    """
    outlines = outlines_of(leaves)
    if len(outlines) == 1 and outlines[0].is_empty:
        outlines = [clump_outline]
    doubt_on = {flag.belongs_to: flag for flag in doubts}
    pieces, letters = [], {}
    for place, k in enumerate(clockwise(leaves, outlines)):
        part, name = leaves[k], letter(place)
        letters[id(part)] = name
        pieces.append(make_piece(name, part, outlines[k], bodies, doubt_on, rules))
    return pieces, letters


def make_piece(
    name: str,
    part: Part,
    outline: Polygon,
    bodies: Mapping[str, Body],
    doubts: Mapping[str | None, Flag],
    rules: Rules,
) -> Piece:
    """Describe one piece.

    Parameters
    ----------
    name : str
        Its letter.
    part : Part
        What it holds.
    outline : Polygon
        Its outline.
    bodies : mapping of str to Body
        All tubers that stay.
    doubts : mapping
        Tuber id -> a flag of removal that is to be looked at first.
    rules : Rules
        The rules.

    Returns
    -------
    Piece
        With its note.
    """
    tubers = sorted((t for unit in part.units for t in unit.tubers), key=by_number)
    stems = [
        stem.id
        for stem in part.stems
        if part.core.is_empty
        or stem.shape.intersection(part.core).area >= STEM_SHARE * stem.shape.area
    ]
    chance = chance_of_an_eye(part.eyes)
    confirmed = sum(eye.confirmed for eye in part.eyes)
    notes = _eye_notes(part, chance, confirmed, rules)
    for tuber in tubers:
        notes += _tuber_notes(bodies[tuber], doubts.get(tuber), rules)
    return Piece(
        name,
        tubers,
        stems,
        sorted((eye.id for eye in part.eyes), key=by_number),
        confirmed,
        chance,
        points_of(outline),
        sum(volume_ml(bodies[tuber]) for tuber in tubers),
        "; ".join(notes),
        sum(eye.side > 0 for eye in part.eyes),
    )


def room_of(part: Part, bodies: Mapping[str, Body], px_per_mm: float) -> float:
    """Return the room that a piece takes in the store, litres.

    It lies flat: its convex outline on the photo, as high as its thickest tuber.
    """
    shapes = [part.core, *(unit.shape for unit in part.units)]
    flat_mm2 = shapely.union_all(shapes).convex_hull.area / px_per_mm**2
    tubers = [bodies[name].tuber for unit in part.units for name in unit.tubers]
    thick_mm = max((tuber.max_diameter_mm for tuber in tubers if tuber), default=0.0)
    return float(flat_mm2 * thick_mm / 1e6)


def _eye_notes(part: Part, chance: float, confirmed: int, rules: Rules) -> list[str]:
    notes = []
    if far := [(eye.id, eye.belongs_to) for eye in part.eyes if eye.side]:
        notes.append(words.on_other_side(far))
    notes += [words.same_eye(eye.id, eye.also) for eye in part.eyes if eye.also]
    if confirmed == 0:
        notes.append(words.NO_EYE)
    if chance < rules.value("safe_eye_chance"):
        notes.append(words.doubtful(chance, rules))
    if part.eyes and len(part.units) > 1:
        owners = {id(_owner(eye, part)) for eye in part.eyes}
        blind = [u.tubers[0] for u in part.units if id(u) not in owners]
        if blind:
            notes.append(words.stays_for_spring(sorted(blind, key=by_number)))
    return notes


def _owner(eye: Eye, part: Part) -> Unit:
    for unit in part.units:
        if eye.belongs_to in unit.tubers:
            return unit
    return min(part.units, key=lambda unit: unit.place.distance(eye.place))


def _tuber_notes(body: Body, doubt: Flag | None, rules: Rules) -> list[str]:
    notes = []
    if doubt is not None:
        notes.append(words.may_be(body.id, doubt.kind, doubt.id))
    if body.tuber is None:
        return notes
    if body.tuber.neck_width_mm < rules.value("thin_neck_mm"):
        notes.append(words.thin_neck(body.id, body.tuber.neck_width_mm))
    if not is_sound(body, rules):
        notes.append(words.small_body(body.id))
    if body.tuber.length_mm > rules.value("oversize_length_mm"):
        notes.append(words.oversize(body.id, body.tuber.length_mm, rules))
    return notes
