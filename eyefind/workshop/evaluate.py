"""Judge the finder on rendered clumps: tables for people, numbers for machines."""

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import msgspec
import numpy as np

from eyefind.data import Kind
from eyefind.look.seen import see_whole
from eyefind.rules import load_rules
from eyefind.workshop.gather import (
    EYE_REACH_MM,
    NECK_REACH_MM,
    OTHER_REACH_MM,
    Judged,
    Places,
    eye_places,
    found_parts,
    judge,
    read_truths,
    true_scale,
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
from eyefind.workshop.true_anatomy import true_anatomy, true_mask
from eyefind.workshop.truth import TrueEye, Truth

FALSE_PER_CLUMP = (0.5, 1.0, 2.0, 4.0)
"""Numbers of false flags a clump at which recall is told."""
CLEAR_DELTA_E, CLEAR_VISIBLE = 6.0, 0.5
"""An eye that differs so much from its ring (CIEDE2000), and is seen so far, is
clear."""
SEEN_SIZE_MM = 2.0
"""Smaller eyes are told apart."""

Wanted = Callable[[TrueEye], bool]
Table = dict[str, Value]


def evaluate(
    folder: Path,
    out: Path | None = None,
    with_true_anatomy: bool = False,
    classical: bool = False,
) -> str:
    """Judge the finder on a set of rendered clumps.

    Parameters
    ----------
    folder : Path
        Pictures with their ``NAME.truth.json``.
    out : Path, optional
        Markdown file to write; the numbers go beside it as ``.json``.
    with_true_anatomy : bool
        Judge the flags alone: mask and anatomy are taken from the truth.
    classical : bool
        Judge the classical finder, without the network.

    Returns
    -------
    str
        The tables, in Markdown.
    """
    rules = load_rules()
    clumps = []
    for truth, rgb, label in read_truths(folder):
        seen = None if classical else see_whole(rgb, truth.px_per_mm)
        if with_true_anatomy:
            mask, anatomy = true_mask(truth, label), true_anatomy(truth)
        else:
            mask, anatomy = found_parts(rgb, true_scale(truth), rules, seen)
        clumps.append(judge(truth, rgb, mask, anatomy, rules, seen))
    tables = score(clumps)
    heading = f"{len(clumps)} rendered clumps of {folder.name}, " + (
        "true anatomy" if with_true_anatomy else "found anatomy"
    )
    heading += ", classical finder" if classical else ""
    text = as_markdown(heading, tables, calibration(clumps))
    if out is not None:
        out.write_text(text, encoding="utf-8")
        numbers = msgspec.json.encode({"of": heading, "tables": tables})
        out.with_suffix(".json").write_bytes(msgspec.json.format(numbers, indent=2))
    return text


def score(clumps: Sequence[Judged]) -> dict[str, Table]:
    """Score clumps.

    Parameters
    ----------
    clumps : sequence of Judged
        Results.

    Returns
    -------
    dict of str to dict of str to Value
        Tables by heading.
    """
    ours, plain = "Eyes, eyefind", "Eyes, plain scikit-image"
    return {
        ours: _eye_table(clumps, lambda clump: clump.eyes),
        plain: _eye_table(clumps, lambda clump: clump.plain),
        "Eyes as shown": _shown_table(clumps),
        "Recall at 2 false flags a clump, by group": _group_table(clumps),
        "Other flags as shown": _other_table(clumps),
        "Anatomy": _anatomy_table(clumps),
    }


def _is_clear(eye: TrueEye) -> bool:
    return eye.delta_e >= CLEAR_DELTA_E and eye.visible_fraction >= CLEAR_VISIBLE


def _any(eye: TrueEye) -> bool:
    return True


def _is_seen_size(eye: TrueEye) -> bool:
    return eye.size_mm >= SEEN_SIZE_MM


def _ranked(clump: Judged, places: Places, wanted: Wanted) -> Ranked:
    """Rank flags; what finds an eye that is not wanted counts neither way."""
    eyes = clump.truth.eyes
    reach = EYE_REACH_MM * clump.truth.px_per_mm
    hit = hits_by_rank(places.place_rc, eye_places(eyes), reach)
    chosen = [eye for eye in eyes if wanted(eye)]
    counted = hits_by_rank(places.place_rc, eye_places(chosen), reach)
    return Ranked(places.likelihood, hit | counted, counted, len(chosen))


def _eye_table(
    clumps: Sequence[Judged], places_of: Callable[[Judged], Places]
) -> Table:
    table: Table = {}
    for name, wanted in (
        ("all", _any),
        (f"{SEEN_SIZE_MM:g} mm or more", _is_seen_size),
        ("clear", _is_clear),
    ):
        ranked = [_ranked(clump, places_of(clump), wanted) for clump in clumps]
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
    ranked = [_ranked(clump, clump.shown, _any) for clump in clumps]
    total = sum(one.total for one in ranked)
    flags = sum(len(one.hit) for one in ranked)
    return {
        "recall": with_interval(
            lambda some: _ratio([(c.hit.sum(), c.total) for c in some]), ranked, total
        ),
        "false flags a clump": with_interval(
            lambda some: _ratio([((~c.hit).sum(), 1) for c in some]), ranked, flags
        ),
        "Brier score": with_interval(lambda some: brier(*_pooled(some)), ranked, flags),
    }


def _group_table(clumps: Sequence[Judged]) -> Table:
    ranked = [_ranked(clump, clump.eyes, _any) for clump in clumps]
    least = threshold_at(ranked, 2.0)
    groups: dict[str, list[list[bool]]] = {}
    for index, clump in enumerate(clumps):
        for eye, found in zip(clump.truth.eyes, _found(clump, least), strict=True):
            for name in _groups(eye, clump.truth):
                table = groups.setdefault(name, [[] for _ in clumps])
                table[index].append(found)
    return {
        name: with_interval(
            lambda some: _ratio([(sum(each), len(each)) for each in some]),
            groups[name],
            sum(map(len, groups[name])),
        )
        for name in sorted(groups)
    }


def _found(clump: Judged, least: float) -> list[bool]:
    """Whether each eye is found by the flags at least so likely."""
    kept = clump.eyes.place_rc[clump.eyes.likelihood >= least]
    places = eye_places(clump.truth.eyes)
    pairs = match_points(kept, places, EYE_REACH_MM * clump.truth.px_per_mm)
    matched = {true for _, true in pairs}
    return [index in matched for index in range(len(places))]


def _groups(eye: TrueEye, truth: Truth) -> list[str]:
    standing = "clear" if _is_clear(eye) else "not clear"
    if eye.visible_fraction >= CLEAR_VISIBLE:
        seen = "at least half seen"
    else:
        seen = "less than half seen"
    state = "sprouting" if eye.sprouting else "dormant"
    return [
        f"colour: {eye.colour}",
        f"state: {state}",
        f"standing out: {standing}",
        f"uncovered: {seen}",
        f"light: {truth.light}",
        f"skin: {truth.skin}",
        f"view: {truth.view}",
        f"bench: {truth.bench}",
    ]


def _other_table(clumps: Sequence[Judged]) -> Table:
    table: Table = {}
    for kind in OTHER_REACH_MM:
        word = kind.replace("_", " ")
        there = sum(clump.found[kind] + clump.missed[kind] for clump in clumps)
        flags = sum(clump.found[kind] + clump.false[kind] for clump in clumps)
        table[f"{word}: recall"] = with_interval(
            partial(_recall_of, kind),
            clumps,
            there,
        )
        table[f"{word}: false flags a clump"] = with_interval(
            partial(_false_of, kind),
            clumps,
            flags,
        )
    return table | _parent_table(clumps)


def _recall_of(kind: Kind, clumps: Sequence[Judged]) -> float:
    return _ratio([(c.found[kind], c.found[kind] + c.missed[kind]) for c in clumps])


def _false_of(kind: Kind, clumps: Sequence[Judged]) -> float:
    return _ratio([(c.false[kind], 1) for c in clumps])


def _parent_table(clumps: Sequence[Judged]) -> Table:
    kind: Kind = "spent_parent"
    without = [c for c in clumps if c.found[kind] + c.missed[kind] == 0]
    having = [c for c in clumps if c.found[kind] + c.missed[kind] > 0]
    return {
        "spent parent: AUROC over tubers": with_interval(
            lambda some: auroc(
                np.concatenate([c.parent_score for c in some]),
                np.concatenate([c.is_parent for c in some]),
            ),
            clumps,
            sum(len(c.is_parent) for c in clumps),
        ),
        "spent parent: clumps with one in which one is flagged": with_interval(
            lambda some: _ratio([(c.found[kind] > 0, 1) for c in some]),
            having,
            len(having),
        ),
        "spent parent: clumps without one in which one is flagged": with_interval(
            lambda some: _ratio([(c.false[kind] > 0, 1) for c in some]),
            without,
            len(without),
        ),
    }


def _anatomy_table(clumps: Sequence[Judged]) -> Table:
    return {
        "tubers: panoptic quality": with_interval(
            lambda some: panoptic_quality(
                [overlap for c in some for overlap in c.overlaps],
                sum(c.tubers_found for c in some),
                sum(c.tubers_true for c in some),
            ),
            clumps,
            sum(c.tubers_true for c in clumps),
        ),
        f"necks found within {NECK_REACH_MM:g} mm": with_interval(
            lambda some: _ratio([(c.necks_found, c.necks_true) for c in some]),
            clumps,
            sum(c.necks_true for c in clumps),
        ),
    }


def calibration(
    clumps: Sequence[Judged],
) -> list[tuple[float, float, float, float, int]]:
    """Return the reliability rows of all eye flags (`scores.reliability`)."""
    ranked = [_ranked(clump, clump.eyes, _any) for clump in clumps]
    return reliability(*_pooled(ranked))


def _pooled(ranked: Sequence[Ranked]) -> tuple[Floats, Bools]:
    return (
        np.concatenate([one.likelihood for one in ranked]),
        np.concatenate([one.hit for one in ranked]),
    )


def _ratio(parts: Sequence[tuple[float, float]]) -> float:
    above, below = sum(part[0] for part in parts), sum(part[1] for part in parts)
    return float(above / below) if below else float("nan")


def as_markdown(
    heading: str,
    tables: dict[str, Table],
    bins: list[tuple[float, float, float, float, int]],
) -> str:
    """Write the tables in Markdown.

    Parameters
    ----------
    heading : str
        What was judged.
    tables : dict
        As `score` gives them.
    bins : list
        As `calibration` gives them.

    Returns
    -------
    str
        Markdown text.
    """
    lines = [f"## {heading}", "", "In brackets: 95 % interval by drawing clumps.", ""]
    for title, table in tables.items():
        lines += [f"### {title}", "", "| measure | value |", "| --- | --- |"]
        lines += [f"| {name} | {value} |" for name, value in table.items()]
        lines.append("")
    lines += [
        "### Eyes: likelihood against outcome",
        "",
        "| likelihood | mean | share that is an eye | flags |",
        "| --- | --- | --- | --- |",
    ]
    lines += [
        f"| {low:.2f} to {high:.2f} | {mean:.2f} | {share:.2f} | {count} |"
        for low, high, mean, share, count in bins
    ]
    return "\n".join(lines) + "\n"
