"""Cleaning: what comes off before a clump is divided, and the cut for each."""

from collections.abc import Container, Sequence

import shapely
from shapely import Point, Polygon

from eyefind.data import Discard, Tool
from eyefind.plan import how, words
from eyefind.plan.crosscut import CrossCut, cross_cut, neck_is_whole
from eyefind.plan.drafts import Cleaned, Draft
from eyefind.plan.guard import Guard
from eyefind.plan.oversize import trim_oversize
from eyefind.plan.parts import Body, Clump, hanging_on, trimmed
from eyefind.plan.reach import in_reach, make_reach
from eyefind.plan.shapes import points_of
from eyefind.plan.standing import Eye
from eyefind.plan.stubs import shorten_stems
from eyefind.plan.targets import Target, is_thin
from eyefind.rules import Rule, Rules

PAST_NECK_MM = 12.0
"""How far past the neck a cut may move to keep clear of neighbours."""
ACROSS: tuple[Tool, ...] = ("fine-point snips", "secateurs", "knife")
"""What cuts across a neck or a root, the smallest first."""
CROWN_GAP_MM = 1.0
"""A part is cut off this far from what it hangs on, to leave the crown unhurt."""


def clean(
    clump: Clump, targets: Sequence[Target], eyes: Sequence[Eye], rules: Rules
) -> Cleaned:
    """Plan the cleaning cuts, but for those across stems.

    A part whose cut cannot be made stays, and is then in the way of other cuts; so
    the plan is made again without it until every cut keeps clear of all that stays.

    Parameters
    ----------
    clump : Clump
        The clump.
    targets : sequence of Target
        What is to come off, in the order of work.
    eyes : sequence of Eye
        The eyes that count.
    rules : Rules
        The rules.

    Returns
    -------
    Cleaned
        The cuts in the order of work.
    """
    failed: dict[str, str] = {}
    while True:
        tried = [target for target in targets if target.flag.id not in failed]
        cleaned = _attempt(clump, tried, eyes, rules)
        if not cleaned.failed:
            break
        failed |= cleaned.failed
    for target in targets:
        if target.flag.id in failed:
            kind, flag = target.flag.kind, target.flag.id
            reason = failed[flag]
            cleaned.warnings.append(words.not_cut(kind, target.what, flag, reason))
    if rules.value("trim_oversize"):
        guard = standing_guard(cleaned, clump, eyes, rules)
        trim_oversize(cleaned, guard, clump.px_per_mm, rules)
    return _in_order(cleaned)


def with_stubs(
    cleaned: Cleaned,
    clump: Clump,
    targets: Sequence[Target],
    eyes: Sequence[Eye],
    rules: Rules,
    stub: Rule,
) -> Cleaned:
    """Return a plan of cleaning with the cuts that shorten the stems.

    Parameters
    ----------
    cleaned : Cleaned
        The plan without them; it stays as it is.
    clump, targets, eyes, rules
        As it was made from.
    stub : Rule
        Length of stem that is left.

    Returns
    -------
    Cleaned
        The cuts in the order of work.
    """
    done = cleaned.copied()
    on_stems = [target for target in targets if target.stem is not None]
    guard = standing_guard(done, clump, eyes, rules)
    shorten_stems(done, on_stems, guard, clump.px_per_mm, rules, stub)
    _in_order(done)
    reach = make_reach(eyes, rules, clump.px_per_mm)
    there = {body.id: body.shape for body in clump.bodies.values()}
    there |= {stem.id: stem.shape for stem in done.stems}
    there |= {
        words.top_of(whole.id): whole.shape.difference(stub.shape)
        for whole, stub in zip(clump.stems, done.stems, strict=True)
    }
    done.drafts = in_reach(done.drafts, there, reach)
    return done


def standing_guard(
    cleaned: Cleaned, clump: Clump, eyes: Sequence[Eye], rules: Rules
) -> Guard:
    """Return the rules for cuts that come before any trimming: all that stays whole."""
    margin_px = rules.value("neck_margin_mm") * clump.px_per_mm
    return Guard([clump.bodies[name] for name in cleaned.bodies], eyes, margin_px)


def _in_order(done: Cleaned) -> Cleaned:
    # Cuts that are made alike follow each other: the hand changes its hold less often.
    done.drafts.sort(key=lambda d: (words.PURPOSES.index(d.purpose), d.how.stop))
    return done


def _attempt(
    clump: Clump, targets: Sequence[Target], eyes: Sequence[Eye], rules: Rules
) -> Cleaned:
    done = Cleaned(dict(clump.bodies), list(clump.stems))
    leaving: set[str] = set()
    for target in targets:
        if target.whole and target.body is not None:
            leaving |= {target.body.id, *hanging_on(clump.bodies, target.body.id)}
    stay = [body for body in clump.bodies.values() if body.id not in leaving]
    guard = Guard(stay, eyes, rules.value("neck_margin_mm") * clump.px_per_mm)
    for target in targets:
        if target.body is None:
            continue  # a soft place on a stem
        body = done.bodies.get(target.body.id, target.body)
        if target.body.id in clump.bodies and target.body.id not in done.bodies:
            continue  # it left with what it hangs on
        if (not target.whole and body.id in leaving) or body.host in leaving:
            continue  # it leaves with the tuber
        if not stay and target.flag.kind == "spent_parent":
            done.failed[target.flag.id] = (
                "no other tuber would stay; slice its far end, white and firm is sound"
            )
        elif target.whole:
            _take_off(done, clump, target, body, guard, rules)
        else:
            _trim(done, clump, target, body, guard, rules)
    return done


def _take_off(
    done: Cleaned,
    clump: Clump,
    target: Target,
    body: Body,
    guard: Guard,
    rules: Rules,
) -> None:
    ppm = clump.px_per_mm
    along = hanging_on(done.bodies, body.id)
    first_px = min(body.exit_px + CROWN_GAP_MM * ppm, body.axis.length)
    last_px = min(body.neck_px + PAST_NECK_MM * ppm, body.axis.length)
    own = {body.id, *along}
    cut = cross_cut(body, guard, ppm, first_px, max(first_px, last_px), own)
    if isinstance(cut, str):
        done.failed[target.flag.id] = cut
        return
    gone = [cut.leaves, *(done.bodies[name].shape for name in along)]
    if not _eyes_allow(done, target, gone, own, guard, rules):
        return
    kind, flag = target.flag.kind, target.flag.id
    why = words.why_off(kind, target.what, flag)
    off = how.off(target.what, body.host)
    thick_px = cut.path.intersection(body.shape).length
    done.drafts.append(
        Draft(
            words.TAKE_OFF[kind],
            cut.path,
            ACROSS[0],
            why,
            off,
            ACROSS,
            thick_px,
            (body.id, *along),
            (body.id, *along),
        )
    )
    what = target.what if body.id in done.bodies else f"{target.what} {flag}"
    _discard(done, what, words.REASON[kind], body.id, cut.leaves)
    done.bodies.pop(body.id, None)
    _leave_along(done, along, body.id)


def _trim(
    done: Cleaned,
    clump: Clump,
    target: Target,
    body: Body,
    guard: Guard,
    rules: Rules,
) -> None:
    ppm = clump.px_per_mm
    kind, flag = target.flag.kind, target.flag.id
    cut = cross_cut(
        body,
        guard,
        ppm,
        target.at_px,
        max(target.at_px - PAST_NECK_MM * ppm, body.neck_px),
        {body.id},
        target.patch if kind == "soft" else None,
    )
    thickness_mm = 0.0
    if isinstance(cut, CrossCut):
        thickness_mm = cut.path.intersection(body.shape).length / ppm
        if not neck_is_whole(body, cut, ppm):
            cut = f"it would sever the neck of {body.id}"
        elif kind == "rat_tail" and not is_thin(thickness_mm, rules):
            cut = f"{body.id} is thick there"
    if isinstance(cut, str):
        done.failed[flag] = cut
        return
    along = [
        child.id
        for child in done.bodies.values()
        if child.host == body.id and _sits_at(child, body) > cut.at_px
    ]
    along += [far for child in along for far in hanging_on(done.bodies, child)]
    gone = [cut.leaves, *(done.bodies[name].shape for name in along)]
    if not _eyes_allow(done, target, gone, along, guard, rules):
        return
    if kind == "soft":
        why = words.why_back(target.what, flag, rules["soft_margin_mm"])
        tools: tuple[Tool, ...] = ("knife",)
    else:
        why = words.why_tail(target.what, flag)
        tools = ACROSS
    own = (body.id, *along)
    done.drafts.append(
        Draft(
            words.TAKE_OFF[kind],
            cut.path,
            tools[0],
            why,
            how.end(body.id),
            tools,
            thickness_mm * ppm,
            own,
            tuple(along),
        )
    )
    what = "soft end of" if kind == "soft" else "thin end of"
    _discard(done, f"{what} {body.id}", words.REASON[kind], body.id, cut.leaves)
    done.bodies[body.id] = trimmed(body, cut.stays, cut.at_px)
    _leave_along(done, along, body.id)


def _sits_at(child: Body, host: Body) -> float:
    if child.axis.is_empty or host.axis.is_empty:
        return 0.0
    return float(host.axis.project(Point(child.axis.coords[0])))


def _eyes_allow(
    done: Cleaned,
    target: Target,
    gone: Sequence[Polygon],
    names: Container[str | None],
    guard: Guard,
    rules: Rules,
) -> bool:
    """Refuse a cut that takes an eye away; say of a doubtful one that it would go."""
    lost = [
        eye
        for eye in guard.eyes
        if (
            eye.belongs_to in names
            if eye.side
            else any(shapely.intersects(shape, eye.place) for shape in gone)
        )
    ]
    for eye in lost:
        if eye.confirmed or eye.chance >= rules.value("removal_likelihood"):
            done.failed[target.flag.id] = f"eye {eye.id} would leave with it"
            return False
    done.warnings += [words.eye_leaves(eye.id, target.what) for eye in lost]
    return True


def _leave_along(done: Cleaned, along: Sequence[str], host: str) -> None:
    for name in along:
        body = done.bodies.pop(name)
        done.warnings.append(words.hangs_on(name, host))
        why = f"it hangs on {host}, which comes off"
        _discard(done, name, why, name, body.shape)


def _discard(
    done: Cleaned, what: str, why: str, belongs_to: str, shape: Polygon
) -> None:
    done.discards.append(Discard(what, why, belongs_to, points_of(shape)))
