"""Oversize tubers are trimmed from their far end, if the grower's rules say so."""

from eyefind.data import Discard
from eyefind.plan import how, words
from eyefind.plan.crosscut import cross_cut, neck_is_whole
from eyefind.plan.drafts import Cleaned, Draft
from eyefind.plan.guard import Guard
from eyefind.plan.parts import hanging_on, trimmed
from eyefind.plan.shapes import points_of
from eyefind.rules import Rules


def trim_oversize(done: Cleaned, guard: Guard, px_per_mm: float, rules: Rules) -> None:
    """Trim every oversize tuber of `done`; what cannot be cut cleanly stays long.

    Parameters
    ----------
    done : Cleaned
        What stays so far; its bodies, cuts, discards and warnings are added to.
    guard : Guard
        The rules, over all tubers that stay.
    px_per_mm : float
        Scale.
    rules : Rules
        The rules.
    """
    for body in list(done.bodies.values()):
        bears = hanging_on(done.bodies, body.id)
        if body.tuber is None or body.kept_share < 1.0 or bears:
            continue
        long_mm, least_mm = body.tuber.length_mm, rules.value("oversize_length_mm")
        most = rules.value("oversize_trim_fraction")
        at_px = body.neck_px + max((1 - most) * long_mm, least_mm) * px_per_mm
        last_px = body.axis.length - px_per_mm
        if not long_mm > least_mm or at_px >= last_px:
            continue
        cut = cross_cut(body, guard, px_per_mm, at_px, last_px, {body.id})
        if not isinstance(cut, str) and not neck_is_whole(body, cut, px_per_mm):
            cut = f"it would sever the neck of {body.id}"
        if isinstance(cut, str):
            done.warnings.append(words.not_trimmed(body.id, cut))
            continue
        why = words.why_trim(body.id, long_mm, rules)
        far = how.end(body.id)
        own = (body.id,)
        done.drafts.append(
            Draft(words.TRIM, cut.path, "knife", why, far, ("knife",), 0.0, own)
        )
        what = f"far end of {body.id}"
        outline = points_of(cut.leaves)
        done.discards.append(Discard(what, words.FAR_END, body.id, outline))
        done.bodies[body.id] = trimmed(body, cut.stays, cut.at_px)
