"""What a finder reached on a set, in tables: every score with its interval."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from operator import attrgetter

import numpy as np

from eyefind.data import Kind
from eyefind.workshop.gather import (
    EYE_REACH_MM,
    NECK_REACH_MM,
    OTHER_REACH_MM,
    STEM_REACH_MM,
    Judged,
    Places,
    eye_places,
)
from eyefind.workshop.match import hits_by_rank, match_points
from eyefind.workshop.scores import (
    Bools,
    Floats,
    Ranked,
    Value,
    auroc,
    average_precision,
    brier,
    panoptic_quality,
    recall_at,
    reliability,
    threshold_at,
    with_interval,
)
from eyefind.workshop.truth import TrueEye, Truth

FALSE_PER_CLUMP = (0.5, 1.0, 2.0, 4.0)
"""Numbers of false flags a clump at which recall is told."""
USUAL_FALSE = 2.0
"""The one of them at which groups of eyes, and finders, are compared."""
CLEAR_DELTA_E, CLEAR_VISIBLE = 6.0, 0.5
"""An eye that differs so much from its ring (CIEDE2000), and is seen so far, is
clear."""
SEEN_SIZE_MM = 2.0
"""Smaller eyes are told apart."""
PARENT: Kind = "spent_parent"

Wanted = Callable[[TrueEye], bool]
FoundEyes = tuple[Truth, Places]
"""The truth of a clump, and where eyes were found on it."""
Table = dict[str, Value]
Tables = dict[str, Table]
"""Tables by heading."""


@dataclass(frozen=True, eq=False)
class Column:
    """One finder on one set.

    Attributes
    ----------
    set_name, finder : str
        Which set, which finder.
    eyes : list of (Truth, Places)
        The eyes found on each clump.
    clumps : list of Judged
        All that was found on each; empty for a finder of nothing but eyes.
    """

    set_name: str
    finder: str
    eyes: list[FoundEyes]
    clumps: list[Judged]

    @property
    def name(self) -> str:
        """What stands over the column."""
        return f"{self.set_name}, {self.finder}"

    @property
    def ranked(self) -> list[Ranked]:
        """Flags of all eyes."""
        return [rank(found, _any) for found in self.eyes]


def is_clear(eye: TrueEye) -> bool:
    """Tell whether an eye stands out clearly and is at least half uncovered."""
    return eye.delta_e >= CLEAR_DELTA_E and eye.visible_fraction >= CLEAR_VISIBLE


def _any(eye: TrueEye) -> bool:
    return True


def _is_seen_size(eye: TrueEye) -> bool:
    return eye.size_mm >= SEEN_SIZE_MM


EYES: dict[str, Wanted] = {
    "all": _any,
    f"{SEEN_SIZE_MM:g} mm or more": _is_seen_size,
    "clear": is_clear,
}
GROUPS: dict[str, Callable[[TrueEye, Truth], str]] = {
    "kind (colour)": lambda eye, truth: eye.colour,
    "kind (growth)": lambda eye, truth: "sprouting" if eye.sprouting else "dormant",
    "standing out": lambda eye, truth: "clear" if is_clear(eye) else "not clear",
    "cover": lambda eye, truth: (
        "at least half seen"
        if eye.visible_fraction >= CLEAR_VISIBLE
        else "less than half seen"
    ),
    "light": lambda eye, truth: truth.light,
    "skin": lambda eye, truth: truth.skin,
    "view": lambda eye, truth: truth.view,
    "bench": lambda eye, truth: truth.bench,
}
"""By what eyes are grouped, and how to name an eye's group."""


def score(column: Column) -> Tables:
    """Score a finder on a set.

    Parameters
    ----------
    column : Column
        What it found.

    Returns
    -------
    dict of str to dict of str to Value
        Tables by heading; of a finder of nothing but eyes only that of the eyes.
    """
    tables = {"Eyes": _eye_table(column.eyes)}
    if not column.clumps:
        return tables
    least = threshold_at(column.ranked, USUAL_FALSE)
    by_group = {
        f"Eyes found at {USUAL_FALSE:g} false flags a clump, by {word}": _group_table(
            column.eyes, least, group
        )
        for word, group in GROUPS.items()
    }
    return {
        **tables,
        **by_group,
        "Eyes as shown to the grower": _shown_table(column.clumps),
        "Likelihood against outcome, all eye flags": _calibration_table(column),
        "Spent parents": _parent_table(column.clumps),
        "Other flags as shown": _other_table(column.clumps),
        "Anatomy": _anatomy_table(column.clumps),
    }


def ahead(ours: Column, theirs: Column) -> Table:
    """Tell how far one finder is ahead of another on the same clumps.

    The clumps are drawn in pairs, so what is hard for both does not widen the interval.

    Parameters
    ----------
    ours, theirs : Column
        Both on one set.

    Returns
    -------
    dict of str to Value
        Differences of recall.
    """
    table: Table = {}
    for name, wanted in EYES.items():
        pairs = [
            (rank(one, wanted), rank(other, wanted))
            for one, other in zip(ours.eyes, theirs.eyes, strict=True)
        ]
        total = sum(one.total for one, _ in pairs)
        table[f"recall gained, {name}"] = with_interval(_gained, pairs, total)
    return table


def _gained(pairs: Sequence[tuple[Ranked, Ranked]]) -> float:
    ours, theirs = zip(*pairs, strict=True)
    return recall_at(ours, USUAL_FALSE) - recall_at(theirs, USUAL_FALSE)


def rank(found: FoundEyes, wanted: Wanted) -> Ranked:
    """Rank flags; what finds an eye that is not wanted counts neither way."""
    truth, places = found
    reach = EYE_REACH_MM * truth.px_per_mm
    hit = hits_by_rank(places.place_rc, eye_places(truth.eyes), reach)
    chosen = [eye for eye in truth.eyes if wanted(eye)]
    counted = hits_by_rank(places.place_rc, eye_places(chosen), reach)
    return Ranked(places.likelihood, hit | counted, counted, len(chosen))


def _eye_table(eyes: Sequence[FoundEyes]) -> Table:
    table: Table = {}
    for name, wanted in EYES.items():
        ranked = [rank(found, wanted) for found in eyes]
        total = sum(one.total for one in ranked)
        for false in FALSE_PER_CLUMP:
            table[f"recall, {name}, at {false:g} false a clump"] = with_interval(
                partial(recall_at, false_per_clump=false), ranked, total
            )
        table[f"average precision, {name}"] = with_interval(
            average_precision, ranked, total
        )
    return table


def _shown_table(clumps: Sequence[Judged]) -> Table:
    ranked = [rank((clump.truth, clump.shown), _any) for clump in clumps]
    flags = sum(len(one.hit) for one in ranked)
    return {
        "recall": _share((c.wanted.sum(), c.total) for c in ranked),
        "false flags a clump": _share(((~c.hit).sum(), 1) for c in ranked),
        "Brier score": with_interval(brier, ranked, flags),
    }


def _group_table(
    eyes: Sequence[FoundEyes], least: float, group: Callable[[TrueEye, Truth], str]
) -> Table:
    there: dict[str, list[list[bool]]] = {}
    for index, (truth, places) in enumerate(eyes):
        which = _which_found(truth, places, least)
        for eye, found in zip(truth.eyes, which, strict=True):
            name = group(eye, truth)
            there.setdefault(name, [[] for _ in eyes])[index].append(found)
    return {
        name: _share((sum(each), len(each)) for each in there[name])
        for name in sorted(there)
    }


def _which_found(truth: Truth, places: Places, least: float) -> list[bool]:
    """Whether each eye is found by the flags at least so likely."""
    kept = places.place_rc[places.likelihood >= least]
    there = eye_places(truth.eyes)
    pairs = match_points(kept, there, EYE_REACH_MM * truth.px_per_mm)
    matched = {true for _, true in pairs}
    return [index in matched for index in range(len(there))]


def _calibration_table(column: Column) -> Table:
    ranked = column.ranked
    flags = sum(len(one.hit) for one in ranked)
    shares = {
        f"eyes among flags of {each.low:.2f} to {each.high:.2f}": each.share
        for each in reliability(ranked)
    }
    return {"Brier score": with_interval(brier, ranked, flags), **shares}


def _parent_table(clumps: Sequence[Judged]) -> Table:
    in_view = [_in_view(clump) for clump in clumps]
    with_one = [c for c in clumps if c.found[PARENT] + c.missed[PARENT] > 0]
    without = [c for c in clumps if c.found[PARENT] + c.missed[PARENT] == 0]
    return {
        "AUROC over all tubers in view": parent_auroc(clumps),
        "AUROC over those that were found": parent_auroc(clumps, only_found=True),
        "AUROC over all a quarter in view": parent_auroc(in_view),
        "parents that were found as tubers": _parents_that(_is_tuber, clumps),
        "parents a quarter in view that were found as tubers": _parents_that(
            _is_tuber, in_view
        ),
        "parents a quarter in view that are flagged": _parents_that(
            attrgetter("is_flagged"), in_view
        ),
        "clumps with a parent: share where it is flagged": _share(
            (c.found[PARENT] > 0, 1) for c in with_one
        ),
        "clumps without one: share with a false parent": _share(
            (c.false[PARENT] > 0, 1) for c in without
        ),
    }


def _in_view(clump: Judged) -> Judged:
    """Leave out tubers of which less than a quarter is seen, found or not."""
    kept = clump.in_view
    return replace(
        clump,
        parent_score=clump.parent_score[kept],
        is_parent=clump.is_parent[kept],
        is_flagged=clump.is_flagged[kept],
        overlap=clump.overlap[kept],
        in_view=kept[kept],
        tubers_found=clump.tubers_found - int(np.count_nonzero(clump.overlap[~kept])),
    )


def _is_tuber(clump: Judged) -> Bools:
    return np.isfinite(clump.parent_score)


def _parents_that(said: Callable[[Judged], Bools], clumps: Sequence[Judged]) -> Value:
    return _share(((c.is_parent & said(c)).sum(), c.is_parent.sum()) for c in clumps)


def parent_auroc(clumps: Sequence[Judged], only_found: bool = False) -> Value:
    """Chance that a spent parent looks more like one than a sound tuber does.

    Parameters
    ----------
    clumps : sequence of Judged
        What was found.
    only_found : bool
        Leave out tubers that were not found, instead of taking them for sound.

    Returns
    -------
    Value
        Area under the receiver operating characteristic, counting tubers.
    """
    return with_interval(
        lambda some: auroc(*parent_scores(some, only_found)),
        clumps,
        len(parent_scores(clumps, only_found)[0]),
    )


def parent_scores(
    clumps: Sequence[Judged], only_found: bool = False
) -> tuple[Floats, Bools]:
    """Return the likelihood of tubers to be a parent, and whether they are.

    Takes what `parent_auroc` takes; gives two (N,) arrays.
    """
    likelihood = np.concatenate([c.parent_score for c in clumps])
    is_parent = np.concatenate([c.is_parent for c in clumps])
    if only_found:
        found = np.isfinite(likelihood)
        return likelihood[found], is_parent[found]
    return np.nan_to_num(likelihood), is_parent


def _other_table(clumps: Sequence[Judged]) -> Table:
    table: Table = {}
    for kind in OTHER_REACH_MM:
        word = kind.replace("_", " ")
        table[f"{word}: recall"] = _share(
            (c.found[kind], c.found[kind] + c.missed[kind]) for c in clumps
        )
        table[f"{word}: false flags a clump"] = _share(
            (c.false[kind], 1) for c in clumps
        )
    return table


def _anatomy_table(clumps: Sequence[Judged]) -> Table:
    return {
        "tubers: panoptic quality": _tuber_quality(clumps),
        "tubers a quarter in view: panoptic quality": _tuber_quality(
            [_in_view(clump) for clump in clumps]
        ),
        f"necks found within {NECK_REACH_MM:g} mm": _share(
            (c.necks_found, c.necks_true) for c in clumps
        ),
        f"stems found within {STEM_REACH_MM:g} mm": _share(
            (c.stems_right, c.stems_true) for c in clumps
        ),
        "false stems a clump": _share(
            (c.stems_found - c.stems_right, 1) for c in clumps
        ),
        "clumps with the right number of stems": _share(
            (c.stems_found == c.stems_true, 1) for c in clumps
        ),
    }


def _tuber_quality(clumps: Sequence[Judged]) -> Value:
    return with_interval(
        lambda some: panoptic_quality(
            [float(each) for c in some for each in c.overlap if each],
            sum(c.tubers_found for c in some),
            sum(len(c.overlap) for c in some),
        ),
        clumps,
        sum(len(c.overlap) for c in clumps),
    )


def _share(parts: Iterable[tuple[float, float]]) -> Value:
    """Ratio of two sums with its interval, of one pair of numbers a clump."""
    pairs = np.array(list(parts), float).reshape(-1, 2)
    return with_interval(_ratio, list(pairs), int(pairs[:, 1].sum()))


def _ratio(pairs: Sequence[Floats]) -> float:
    above, below = np.sum(pairs, axis=0) if len(pairs) else (0.0, 0.0)
    return float(above / below) if below else float("nan")
