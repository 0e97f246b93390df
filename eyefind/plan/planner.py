"""From anatomy, flags and the grower's word to a plan."""

from dataclasses import dataclass, replace
from functools import cached_property

import shapely

from eyefind.data import Anatomy, Choice, Cut, Flag, Plan, Says, Scale, Style
from eyefind.plan import words
from eyefind.plan.caveats import all_warnings
from eyefind.plan.clean import clean, with_stubs
from eyefind.plan.divide import Way, Ways, pick, ways_to_divide
from eyefind.plan.division import Division, Part, whole_part
from eyefind.plan.drafts import Cleaned
from eyefind.plan.guard import Guard
from eyefind.plan.order import divided, eyes_lie_where_told
from eyefind.plan.parts import Clump, read_clump
from eyefind.plan.pieces import lettered, room_of
from eyefind.plan.reach import make_reach
from eyefind.plan.search import USUAL, Search
from eyefind.plan.shapes import polygon
from eyefind.plan.sides import counted_once
from eyefind.plan.split_drafts import split_drafts
from eyefind.plan.standing import Eye, is_reviewed, standing_eyes, verdict
from eyefind.plan.targets import Target, find_targets
from eyefind.rules import Rules


@dataclass(frozen=True)
class Wish:
    """What the grower wants.

    Attributes
    ----------
    style : str
        ``"whole"``, ``"stems"``, ``"singles"`` or ``"least"``.
    most_pieces : int or None
        No more pieces than this.
    room_l : float or None
        Room left in the store, litres: as few cuts as fit.
    """

    style: Style
    most_pieces: int | None = None
    room_l: float | None = None


@dataclass(frozen=True, eq=False)
class Bench:
    """One clump on the bench: what is known of it, and what must leave."""

    clump: Clump
    eyes: list[Eye]
    off: list[Flag]
    doubts: list[Flag]
    scale: Scale
    rules: Rules
    search: Search

    def guard(self, cleaned: Cleaned) -> Guard:
        """Return the rules, over all tubers that stay."""
        margin_px = self.rules.value("neck_margin_mm") * self.clump.px_per_mm
        return Guard(cleaned.bodies.values(), self.eyes, margin_px)

    def cleaned(self, stub: str) -> Cleaned:
        """Return what stays after cleaning, stems cut to the rule `stub`."""
        targets, warnings = self._targets
        length = self.rules[stub]
        done = with_stubs(
            self._bare, self.clump, targets, self.eyes, self.rules, length
        )
        done.warnings += warnings
        return done

    @cached_property
    def _targets(self) -> tuple[list[Target], list[str]]:
        return find_targets(self.off, self.clump, self.rules)

    @cached_property
    def _bare(self) -> Cleaned:
        """What stays after cleaning, stems as they are."""
        return clean(self.clump, self._targets[0], self.eyes, self.rules)

    def rest(self, cleaned: Cleaned) -> Part:
        """Return what is left to be divided, without the eyes that left."""
        gone = [polygon(discard.outline_px) for discard in cleaned.discards]
        crown = self.clump.crown
        left = [
            eye
            for eye in self.eyes
            if (
                eye.belongs_to in cleaned.bodies
                if eye.side
                else crown.covers(eye.place)
                or not any(shape.covers(eye.place) for shape in gone)
            )
        ]
        return whole_part(cleaned, crown, left, self.rules, self.clump.px_per_mm)


@dataclass(frozen=True, eq=False)
class Picked:
    """What was picked of all ways to divide a clump."""

    cleaned: Cleaned
    ways: Ways
    curve: dict[int, Way]
    pieces: int
    division: Division


def make_plan(
    anatomy: Anatomy,
    flags: list[Flag],
    standing: dict[str, Says],
    scale: Scale,
    style: Style,
    rules: Rules,
    most_pieces: int | None = None,
    room_l: float | None = None,
    search: Search = USUAL,
) -> Plan:
    """Suggest pieces, and the cuts that make them, in the order of work.

    Parameters
    ----------
    anatomy : Anatomy
        The parts of the clump; outlines may be untidy, crown and tubers missing.
    flags : list of Flag
        The flags in force, those of other sides of the clump among them.
    standing : dict
        Flag id -> ``"confirmed"``, ``"rejected"`` or ``"not_sure"``. Eyes that are
        missing count by their likelihood.
    scale : Scale
        px per mm.
    style : str
        ``"whole"``, ``"stems"``, ``"singles"`` or ``"least"``.
    rules : Rules
        The rules of the trade.
    most_pieces : int, optional
        No more pieces than this.
    room_l : float, optional
        Room left in the store, litres: as few cuts as fit.
    search : Search, optional
        How thoroughly to look for cuts.

    Returns
    -------
    Plan
        Every cut keeps clear of every eye that counts and of every tuber that stays;
        what cannot be cut so is left out, and a warning says why. Without a crown or
        tubers the style is ``"whole"``.
    """
    clump = read_clump(anatomy, scale)
    flags = [flag for flag in flags if not flag.side or flag.belongs_to in clump.bodies]
    off: list[Flag] = []
    doubts: list[Flag] = []
    for flag in flags:
        if flag.kind != "eye":
            said = verdict(flag, standing, rules)
            off += [flag] if said == "cut" else []
            doubts += [flag] if said == "look_first" else []
    eyes = counted_once(standing_eyes(flags, standing, scale, rules))
    bench = Bench(clump, eyes, off, doubts, scale, rules, search)
    if clump.crown.is_empty or not clump.bodies:
        style = "whole"
    wish = Wish(style, most_pieces, room_l)
    reviewed = is_reviewed(flags, standing)
    # Every flag answered and no eye confirmed: nothing may be divided.
    no_eye = reviewed and not any(eye.confirmed for eye in eyes)
    picked = _picked(bench, replace(wish, style="whole") if no_eye else wish)
    plan = _told(bench, picked, wish, reviewed)
    return replace(plan, alternative=_alternative(bench, picked, wish, plan))


def _picked(bench: Bench, wish: Wish) -> Picked:
    divides = wish.style in ("singles", "least")
    cleaned = bench.cleaned("single_stub_mm" if divides else "stem_stub_mm")
    part, guard = bench.rest(cleaned), bench.guard(cleaned)
    ppm = bench.clump.px_per_mm
    ways = ways_to_divide(part, guard, bench.rules, wish.style, ppm, bench.search)
    curve = ways.curve()
    fits = None
    if wish.room_l is not None:
        room_l = wish.room_l
        fits = (_room(bench, way) <= room_l for way in curve.values())
    pieces = pick(curve, wish.style, wish.most_pieces, fits)
    division = _checked(curve[pieces], part, guard, cleaned)
    if wish.room_l is not None:
        least = min(_room(bench, way) for way in curve.values())
        if least > wish.room_l:
            cleaned.warnings.append(words.too_little_room(wish.room_l, least))
    if divides and not division.splits:
        # Nothing is divided: the stem stays as long as on any whole clump.
        whole = bench.cleaned("stem_stub_mm")
        whole.warnings += [w for w in cleaned.warnings if w not in whole.warnings]
        cleaned, division = whole, Division([bench.rest(whole)])
    return Picked(cleaned, ways, curve, pieces, division)


def _room(bench: Bench, way: Way) -> float:
    return sum(
        room_of(part, bench.clump.bodies, bench.clump.px_per_mm)
        for part in divided(way).leaves
    )


def _checked(way: Way, part: Part, guard: Guard, cleaned: Cleaned) -> Division:
    """Return the division with its cuts asked once more, or the clump undivided."""
    division = divided(way)
    paths = [split.path for split in division.splits]
    sound = not paths or guard.allows(paths).all()
    if sound and eyes_lie_where_told(division.leaves):
        return division
    # A plan that breaks a rule must not leave this module.
    cleaned.warnings.append(words.NOT_CHECKED)
    return Division([part])


def _told(bench: Bench, picked: Picked, wish: Wish, reviewed: bool) -> Plan:
    """Put a division into the words and outlines of a plan."""
    clump, cleaned, division = bench.clump, picked.cleaned, picked.division
    pieces, letters = lettered(
        division.leaves, cleaned.bodies, bench.doubts, clump.outline, bench.rules
    )
    guard = bench.guard(cleaned)
    reach = make_reach(bench.eyes, bench.rules, clump.px_per_mm)
    drafts = cleaned.drafts + split_drafts(
        division, letters, guard, reach, clump.px_per_mm
    )
    cuts = [
        Cut(number, d.purpose, shapely.get_coordinates(d.path), d.tool, d.why, *d.how)
        for number, d in enumerate(drafts, 1)
    ]
    warnings = all_warnings(
        clump,
        cleaned,
        division,
        picked.ways,
        bench.doubts,
        bench.scale,
        wish.style,
        bench.rules,
    )
    limits = wish.most_pieces, wish.room_l
    reason = words.reason(wish.style, len(pieces), max(picked.curve), *limits)
    choices = [
        Choice(n, n - 1, way.length_px() / clump.px_per_mm, way.worth)
        for n, way in picked.curve.items()
    ]
    return Plan(
        wish.style,
        reviewed,
        pieces,
        cuts,
        cleaned.discards,
        warnings,
        *limits,
        reason,
        choices,
    )


def _alternative(bench: Bench, picked: Picked, wish: Wish, plan: Plan) -> Plan | None:
    """Return the second-best plan if it is close, and say so in the first one."""
    best, close = picked.curve[picked.pieces], bench.rules.value("close_call")
    other = picked.ways.close_to(best, close) if picked.division.splits else None
    if other is None:
        return None
    guard = bench.guard(picked.cleaned)
    division = _checked(other, picked.division.leaves[0], guard, picked.cleaned)
    second = _told(bench, replace(picked, division=division), wish, plan.reviewed)
    if _held(second) == _held(plan) or not division.splits:
        return None
    plan.warnings.append(words.close_call(len(plan.pieces)))
    return second


def _held(plan: Plan) -> set[frozenset[str]]:
    return {frozenset(piece.tubers) for piece in plan.pieces}
