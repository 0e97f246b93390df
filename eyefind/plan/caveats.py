"""What the grower must know before cutting."""

from collections.abc import Sequence
from itertools import pairwise

from eyefind.data import Flag, Scale, Style
from eyefind.plan import words
from eyefind.plan.divide import Ways
from eyefind.plan.division import Division, Part, is_sound
from eyefind.plan.drafts import Cleaned
from eyefind.plan.parts import Clump, by_number
from eyefind.rules import Rules


def all_warnings(
    clump: Clump,
    cleaned: Cleaned,
    division: Division,
    ways: Ways,
    doubts: Sequence[Flag],
    scale: Scale,
    style: Style,
    rules: Rules,
) -> list[str]:
    """Return every warning of a plan, the gravest first.

    Parameters
    ----------
    clump : Clump
        The clump.
    cleaned : Cleaned
        What stays after cleaning.
    division : Division
        What it falls into.
    ways : Ways
        All ways that were looked at.
    doubts : sequence of Flag
        Flags of removal that are to be looked at first.
    scale : Scale
        px per mm.
    style : str
        The style that was planned.
    rules : Rules
        The rules.

    Returns
    -------
    list of str
        In sentences.
    """
    warnings = _gravest(clump, cleaned, division)
    if scale.is_unsure:
        warnings.append(words.GUESSED_SCALE)
    if doubts:
        warnings.append(words.look_first([_named(flag) for flag in doubts]))
    warnings += cleaned.warnings
    if clump.unattached:
        warnings.append(words.hidden_necks(clump.unattached))
    bodies = list(cleaned.bodies.values())
    if bodies and not any(is_sound(body, rules) for body in bodies):
        warnings.append(words.all_small(rules))
    if style != "whole":
        warnings += _undivided(division, ways, style, rules)
    warnings.append(words.FAR_SIDE)
    return list(dict.fromkeys(warnings))


def _gravest(clump: Clump, cleaned: Cleaned, division: Division) -> list[str]:
    """Say what may make the whole plan worthless."""
    warnings = []
    gone = len(clump.bodies) - len(cleaned.bodies)
    if not clump.bodies:
        warnings.append(words.NO_TUBERS)
    elif clump.crown.is_empty:
        warnings.append(words.NO_CROWN)
    elif not cleaned.bodies:
        warnings.append(words.NOTHING_STAYS)
    elif gone > len(clump.bodies) / 2:
        warnings.append(words.much_leaves(gone, len(clump.bodies)))
    eyes = [eye for part in division.leaves for eye in part.eyes]
    if not any(eye.confirmed for eye in eyes):
        divided = len(division.leaves) > 1
        warnings.append(words.PREVIEW if divided else words.NO_CONFIRMED_EYE)
    return warnings


def _named(flag: Flag) -> str:
    where = f"{flag.belongs_to}, " if flag.belongs_to else ""
    return f"{flag.id} ({where}{words.KIND[flag.kind]}?)"


def _undivided(division: Division, ways: Ways, style: Style, rules: Rules) -> list[str]:
    """Say what stays together although the style asks to part it, and why."""
    found = []
    shut = not any(skeleton.seams for skeleton in ways.skeletons)
    for part in division.leaves:
        if style == "singles" and len(part.eyes) > 1:
            firsts = [unit.tubers[0] for unit in part.units]
            closed = _closed_gaps(ways.skeletons[0].parts[0], ways)
            for group in _grown_together(firsts, closed):
                found.append(words.together(group, rules))
        if style == "stems" and len(part.stems) > 1:
            stems = [stem.id for stem in part.stems]
            found.append(words.stems_together(stems, not shut))
    return found


def _closed_gaps(whole: Part, ways: Ways) -> list[tuple[str, str]]:
    """Return the neighbours around the crown between which no stroke passes."""
    ring = whole.core.exterior
    ordered = sorted(whole.units, key=lambda unit: ring.project(unit.place))
    names = [unit.tubers[0] for unit in ordered]
    pairs = list(pairwise(names))
    pairs += [(names[-1], names[0])] if len(names) > 2 else []
    passed = ways.open_gaps()
    return [pair for pair in pairs if pair not in passed]


def _grown_together(
    tubers: Sequence[str], closed: Sequence[tuple[str, str]]
) -> list[list[str]]:
    """Return the groups of neighbours between which no stroke passes."""
    group = {tuber: {tuber} for tuber in tubers}
    for first, second in closed:
        if first in group and second in group:
            merged = group[first] | group[second]
            group.update(dict.fromkeys(merged, merged))
    groups = {id(members): members for members in group.values()}
    return [sorted(g, key=by_number) for g in groups.values() if len(g) > 1]
