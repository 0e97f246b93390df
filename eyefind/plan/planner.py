"""From anatomy, flags and the grower's word to a plan."""

from collections.abc import Sequence

import shapely
from shapely import Point

from eyefind.data import Anatomy, Cut, Flag, Plan, Says, Scale, Style
from eyefind.plan import words
from eyefind.plan.caveats import all_warnings
from eyefind.plan.clean import clean
from eyefind.plan.divide import Divider
from eyefind.plan.division import Part, Tree, leaf, whole_part
from eyefind.plan.drafts import Cleaned
from eyefind.plan.guard import Guard
from eyefind.plan.order import split_drafts
from eyefind.plan.parts import Clump, read_clump
from eyefind.plan.pieces import lettered
from eyefind.plan.shapes import polygon
from eyefind.plan.standing import Eye, is_reviewed, placed, standing_eyes, verdict
from eyefind.plan.targets import find_targets
from eyefind.rules import Rules


def make_plan(
    anatomy: Anatomy,
    flags: list[Flag],
    standing: dict[str, Says],
    scale: Scale,
    style: Style,
    rules: Rules,
) -> Plan:
    """Suggest pieces, and the cuts that make them, in the order of work.

    Parameters
    ----------
    anatomy : Anatomy
        The parts of the clump; outlines may be untidy, crown and tubers missing.
    flags : list of Flag
        The flags in force.
    standing : dict
        Flag id -> ``"confirmed"``, ``"rejected"`` or ``"not_sure"``. Eyes that are
        missing count by their likelihood.
    scale : Scale
        px per mm.
    style : str
        ``"whole"``, ``"stems"`` or ``"singles"``.
    rules : Rules
        The rules of the trade.

    Returns
    -------
    Plan
        Every cut keeps clear of every eye that counts and of every tuber that stays;
        what cannot be cut so is left out, and a warning says why. Without a crown or
        tubers the style is ``"whole"``.
    """
    clump = read_clump(anatomy, scale)
    eyes = standing_eyes(flags, standing, scale, rules)
    off: list[Flag] = []
    doubts: list[Flag] = []
    for flag in flags:
        if flag.kind != "eye":
            said = verdict(flag, standing, rules)
            off += [flag] if said == "cut" else []
            doubts += [flag] if said == "look_first" else []
    if clump.crown.is_empty or not clump.bodies:
        style = "whole"
    reviewed = is_reviewed(flags, standing)
    # Every flag answered and no eye confirmed: nothing may be divided.
    no_eye = reviewed and not any(eye.confirmed for eye in eyes)
    cleaned, tree = _clean_and_divide(
        clump, off, eyes, "whole" if no_eye else style, rules
    )
    pieces, letters = lettered(tree, cleaned.bodies, doubts, clump.outline, rules)
    guard = _guard(cleaned, eyes, clump, rules)
    drafts = cleaned.drafts + split_drafts(tree, letters, guard, clump.px_per_mm)
    cuts = [
        Cut(number, d.purpose, shapely.get_coordinates(d.path), d.tool, d.why)
        for number, d in enumerate(drafts, 1)
    ]
    warnings = all_warnings(clump, cleaned, tree, doubts, scale, style, rules)
    return Plan(style, reviewed, pieces, cuts, cleaned.discards, warnings)


def _clean_and_divide(
    clump: Clump, off: Sequence[Flag], eyes: Sequence[Eye], style: Style, rules: Rules
) -> tuple[Cleaned, Tree]:
    """Clean with the stub that the pieces need, and divide what is left."""
    targets, lost = find_targets(off, clump, rules)
    whole_stub = rules["stem_stub_mm"]
    stub = rules["single_stub_mm"] if style == "singles" else whole_stub
    cleaned = clean(clump, targets, eyes, rules, stub)
    tree = _divide(clump, cleaned, eyes, style, rules)
    if style == "singles" and not tree.branches:
        # Nothing is divided: the stem stays as long as on any whole clump.
        cleaned = clean(clump, targets, eyes, rules, whole_stub)
        kept = leaf(_rest(clump, cleaned, eyes, rules), rules)
        tree = Tree(kept.leaves, kept.worth, closed=tree.closed)
    for flag in lost:
        on_crown = placed(flag) and clump.crown.covers(Point(flag.row_px, flag.col_px))
        if flag.kind == "soft" and on_crown:
            cleaned.warnings.append(words.soft_crown(flag.id))
        else:
            cleaned.warnings.append(words.cannot_place(flag.id, flag.kind))
    return cleaned, tree


def _divide(
    clump: Clump, cleaned: Cleaned, eyes: Sequence[Eye], style: Style, rules: Rules
) -> Tree:
    part = _rest(clump, cleaned, eyes, rules)
    guard = _guard(cleaned, eyes, clump, rules)
    tree = Divider(style, guard, rules, clump.px_per_mm).divide(part)
    paths = [split.stroke.path for split in tree.splits() if split.stroke]
    if paths and not guard.allows(paths).all():
        # Never seen; a plan that breaks a rule must not leave this module.
        cleaned.warnings.append(words.NOT_CHECKED)
        return leaf(part, rules)
    return tree


def _rest(clump: Clump, cleaned: Cleaned, eyes: Sequence[Eye], rules: Rules) -> Part:
    """Return what is left to be divided, without the eyes that left."""
    gone = [polygon(discard.outline_px) for discard in cleaned.discards]
    left = [
        eye
        for eye in eyes
        if clump.crown.covers(eye.place)
        or not any(shape.covers(eye.place) for shape in gone)
    ]
    return whole_part(cleaned, clump.crown, left, rules, clump.px_per_mm)


def _guard(cleaned: Cleaned, eyes: Sequence[Eye], clump: Clump, rules: Rules) -> Guard:
    margin_px = rules.value("neck_margin_mm") * clump.px_per_mm
    return Guard(cleaned.bodies.values(), eyes, margin_px)
