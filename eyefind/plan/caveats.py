"""What the grower must know before cutting."""

from collections.abc import Sequence
from itertools import combinations

from eyefind.data import Flag, Scale, Style
from eyefind.plan import words
from eyefind.plan.division import Tree, is_sound
from eyefind.plan.drafts import Cleaned
from eyefind.plan.parts import Clump, by_number
from eyefind.rules import Rules


def all_warnings(
    clump: Clump,
    cleaned: Cleaned,
    tree: Tree,
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
    tree : Tree
        The division.
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
    warnings = _gravest(clump, cleaned, tree)
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
        warnings += _undivided(tree, style, rules)
    warnings.append(words.FAR_SIDE)
    return list(dict.fromkeys(warnings))


def _gravest(clump: Clump, cleaned: Cleaned, tree: Tree) -> list[str]:
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
    eyes = [eye for part in tree.leaves for eye in part.eyes]
    if not any(eye.confirmed for eye in eyes):
        divided = len(tree.leaves) > 1
        warnings.append(words.PREVIEW if divided else words.NO_CONFIRMED_EYE)
    return warnings


def _named(flag: Flag) -> str:
    where = f"{flag.belongs_to}, " if flag.belongs_to else ""
    return f"{flag.id} ({where}{words.KIND[flag.kind]}?)"


def _undivided(tree: Tree, style: Style, rules: Rules) -> list[str]:
    """Say what stays together although the style asks to part it, and why."""
    found = []
    for part in tree.leaves:
        if style == "singles" and len(part.eyes) > 1:
            firsts = [unit.tubers[0] for unit in part.units]
            for group in _grown_together(firsts, tree.closed_gaps()):
                found.append(words.together(group, rules))
        if style == "stems" and len(part.stems) > 1:
            stems = [stem.id for stem in part.stems]
            shut = set(combinations(stems, 2)) <= set(tree.closed_gaps())
            found.append(words.stems_together(stems, not shut))
    return found


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
