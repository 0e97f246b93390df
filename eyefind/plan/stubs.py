"""Stems are shortened to their stubs."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from eyefind.data import Discard, Tool
from eyefind.plan import how, words
from eyefind.plan.crosscut import cross_cut
from eyefind.plan.drafts import Cleaned, Draft
from eyefind.plan.guard import Guard
from eyefind.plan.parts import StemPart
from eyefind.plan.shapes import points_of
from eyefind.plan.targets import Target
from eyefind.rules import Rule, Rules


def shorten_stems(
    done: Cleaned,
    soft: Sequence[Target],
    guard: Guard,
    px_per_mm: float,
    rules: Rules,
    stub: Rule,
) -> None:
    """Shorten every stem of `done` to a stub.

    Parameters
    ----------
    done : Cleaned
        What stays so far; its stems, cuts, discards and warnings are added to.
    soft : sequence of Target
        Soft places on stems.
    guard : Guard
        The rules, over all tubers that stay.
    px_per_mm : float
        Scale.
    rules : Rules
        The rules.
    stub : Rule
        Length of stem that is left.
    """
    for number, stem in enumerate(done.stems):
        places = [t for t in soft if t.stem is not None and t.stem.id == stem.id]
        done.stems[number] = _shortened(
            done, stem, places, guard, px_per_mm, rules, stub
        )


def _shortened(
    done: Cleaned,
    stem: StemPart,
    soft: Sequence[Target],
    guard: Guard,
    ppm: float,
    rules: Rules,
    stub: Rule,
) -> StemPart:
    if stem.axis.is_empty or (stem.end_on and not soft):
        done.warnings.append(words.end_on(stem.id, stub))
        return stem
    wanted = stem.exit_px + stub.value * ppm
    sound = min((target.at_px for target in soft), default=np.inf)
    if sound <= wanted:
        first, last = sound, stem.exit_px
    elif min(stem.axis.length, sound) - wanted <= rules.value("stub_slack_mm") * ppm:
        return stem
    else:
        longest = stem.exit_px + max(stub.high, stub.value) * ppm
        first, last = wanted, min(longest, stem.axis.length, sound)
    cut = cross_cut(stem.as_body(), guard, ppm, first, last, {stem.id})
    if isinstance(cut, str):
        done.warnings.append(words.not_shortened(stem.id, stub.value, cut))
        return stem
    left_mm = (cut.at_px - stem.exit_px) / ppm
    why = words.why_shorten(stem.id, left_mm, stub)
    if sound <= wanted:
        why += words.because_soft(soft[0].flag.id)
    shorten = how.stem(stem.id, left_mm)
    thick_px = cut.path.intersection(stem.shape).length
    tools: tuple[Tool, ...] = ("secateurs", "knife")
    done.drafts.append(
        Draft(
            words.SHORTEN,
            cut.path,
            tools[0],
            why,
            shorten,
            tools,
            thick_px,
            (stem.id, words.top_of(stem.id)),
            (words.top_of(stem.id),),
        )
    )
    what = f"top of stem {stem.id}"
    outline = points_of(cut.leaves)
    done.discards.append(Discard(what, words.ONLY_A_STUB, stem.id, outline))
    return replace(stem, shape=cut.stays)
