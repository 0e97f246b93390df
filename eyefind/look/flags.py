"""All flags of a photo: find candidates of every kind, weigh them, say why.

How each kind is decided: docs/flags.md.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from eyefind.data import Anatomy, Flag, Mask, Pixels, Scale
from eyefind.look.candidates import Candidates, Values
from eyefind.look.collar import cut_out_collar
from eyefind.look.eyes import find_eyes
from eyefind.look.growths import broken_necks, rat_tails, tubers_on_tubers
from eyefind.look.likelihood import likelihood
from eyefind.look.reasons import reasons_for
from eyefind.look.seen import softer, with_opinion
from eyefind.look.soft import soft_patches
from eyefind.look.tissue import look_at_skin, tubers_as_parents
from eyefind.look.views import lamp_direction
from eyefind.model import Answers
from eyefind.rules import Rules

MOST_PARENTS = 3
"""A clump has 0 to 3 spent parents."""


def find_flags(
    rgb: Pixels,
    clump: Mask,
    anatomy: Anatomy,
    scale: Scale,
    rules: Rules,
    seen: Answers | None = None,
    further: Sequence[Pixels] = (),
) -> list[Flag]:
    """Find what is worth showing to the grower.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    clump : (H, W) bool array
        The clump.
    anatomy : Anatomy
        Its parts.
    scale : Scale
        Pixels per mm.
    rules : Rules
        Eyes as likely as ``eye_flag_likelihood`` are shown, other kinds from
        ``other_flag_likelihood`` on.
    seen : Answers, optional
        What the network says of the whole photo; without it the classical finder
        decides alone.
    further : sequence of (H, W, 3) uint8 array
        The other frames of a lamp set, laid on the photo.

    Returns
    -------
    list of Flag
        Eyes first, ``"E1"`` ..., then the others, ``"F1"`` ...; each in the order of
        their tubers' numbers, the likeliest first.
    """
    weighed = weigh_flags(rgb, clump, anatomy, scale, rules, seen, further)
    return numbered(worth_showing(weighed, rules), anatomy)


def weigh_flags(
    rgb: Pixels,
    clump: Mask,
    anatomy: Anatomy,
    scale: Scale,
    rules: Rules,
    seen: Answers | None = None,
    further: Sequence[Pixels] = (),
) -> list[Flag]:
    """Find and weigh candidates of every kind, however unlikely.

    Takes what `find_flags` takes.

    Returns
    -------
    list of Flag
        Without ids. Of spent parents one a tuber.
    """
    given = rgb, clump, anatomy, scale, rules, seen
    flags: list[Flag] = []
    # Side by side: neither needs the other, and both are mostly OpenCV at work.
    with ThreadPoolExecutor(1) as beside:
        others = beside.submit(other_candidates, *given)
        collar = cut_out_collar(*given, further)
        if collar is not None:
            lamp_deg = lamp_direction(rgb, clump, scale.px_per_mm)
            flags += _as_flags(*find_eyes(collar, lamp_deg))
    for found in others.result():
        flags += _as_flags(found, likelihood(found.kind, found.measures))
    return flags


def other_candidates(
    rgb: Pixels,
    clump: Mask,
    anatomy: Anatomy,
    scale: Scale,
    rules: Rules,
    seen: Answers | None = None,
) -> list[Candidates]:
    """Find candidates of every kind but eyes; takes what `find_flags` takes."""
    skin = look_at_skin(rgb, clump, scale)
    found = [
        tubers_as_parents(skin, anatomy),
        soft_patches(skin, anatomy if seen is None else softer(anatomy, seen)),
        tubers_on_tubers(anatomy, scale),
        rat_tails(clump, anatomy, scale, rules),
        broken_necks(skin, anatomy),
    ]
    return found if seen is None else [with_opinion(each, seen) for each in found]


def worth_showing(flags: list[Flag], rules: Rules) -> list[Flag]:
    """Leave out what is too unlikely to be worth the grower's time.

    Parameters
    ----------
    flags : list of Flag
        Weighed flags.
    rules : Rules
        ``eye_flag_likelihood`` and ``other_flag_likelihood``.

    Returns
    -------
    list of Flag
        In the same order; at most `MOST_PARENTS` spent parents.
    """
    least_eye = rules.value("eye_flag_likelihood")
    least_other = rules.value("other_flag_likelihood")
    likely = [
        flag
        for flag in flags
        if flag.likelihood >= (least_eye if flag.kind == "eye" else least_other)
    ]
    parents = [flag for flag in likely if flag.kind == "spent_parent"]
    parents.sort(key=lambda flag: -flag.likelihood)
    too_many = {id(flag) for flag in parents[MOST_PARENTS:]}
    return [flag for flag in likely if id(flag) not in too_many]


def numbered(flags: list[Flag], anatomy: Anatomy) -> list[Flag]:
    """Give ids: eyes ``E1`` ..., others ``F1`` ..., in the order of the tubers.

    Parameters
    ----------
    flags : list of Flag
        Flags without ids.
    anatomy : Anatomy
        Its tubers and stems set the order; what belongs to none comes last.

    Returns
    -------
    list of Flag
        Eyes first.
    """
    tubers = [tuber.id for tuber in anatomy.tubers]
    parts = tubers + [stem.id for stem in anatomy.stems]
    order = {name: place for place, name in enumerate(parts)}

    def place(flag: Flag) -> tuple[int, float, float, float]:
        part = order.get(flag.belongs_to or "", len(order))
        return part, -flag.likelihood, flag.row_px, flag.col_px

    eyes = sorted((flag for flag in flags if flag.kind == "eye"), key=place)
    others = sorted((flag for flag in flags if flag.kind != "eye"), key=place)
    return [
        replace(flag, id=f"{letter}{number}")
        for letter, kind in (("E", eyes), ("F", others))
        for number, flag in enumerate(kind, 1)
    ]


def _as_flags(found: Candidates, chance: Values) -> list[Flag]:
    return [
        Flag(
            "",
            found.kind,
            float(found.place_rc[i, 0]),
            float(found.place_rc[i, 1]),
            round(float(found.size_mm[i]), 1),
            float(chance[i]),
            reasons_for(found, i),
            found.belongs_to[i],
            outline_px=found.outline_px[i],
        )
        for i in range(len(found))
    ]
