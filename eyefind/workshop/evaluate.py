"""Judge the finders on rendered sets: one table for people, numbers for machines."""

from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import cv2
import msgspec
from rich.console import Console
from rich.progress import track

from eyefind.errors import EyefindError
from eyefind.look.seen import see_whole
from eyefind.model import ModelError
from eyefind.rules import load_rules
from eyefind.workshop.gather import (
    Judged,
    Places,
    found_parts,
    judge,
    read_truth,
    true_scale,
    truth_files,
)
from eyefind.workshop.plain_parts import plain_eyes
from eyefind.workshop.plots import draw_plots
from eyefind.workshop.tables import (
    USUAL_FALSE,
    Column,
    Tables,
    ahead,
    score,
)

NETWORK, CLASSICAL, PLAIN = "network", "classical", "plain scikit-image"
"""The finders: as shipped, as it is without weights, and the yardstick below both."""


@dataclass(frozen=True, eq=False)
class Looked:
    """What each finder made of one clump; the plain one within the network's clump."""

    network: Judged
    classical: Judged
    plain: Places


def evaluate(folders: Sequence[Path], out: Path | None = None) -> str:
    """Judge all finders on sets of rendered clumps, on all cores.

    Parameters
    ----------
    folders : sequence of Path
        Sets: pictures with their ``NAME.truth.json``.
    out : Path, optional
        Markdown file to write; the numbers go beside it as ``.json``, the plots as
        ``.png``.

    Returns
    -------
    str
        The tables, in Markdown.

    Raises
    ------
    EyefindError
        If a folder holds no truth, or two folders have one name.
    """
    if len({folder.name for folder in folders}) < len(folders):
        raise EyefindError("Two of the folders have one name.", "Rename one of them.")
    columns = [column for folder in folders for column in judge_set(folder)]
    return report(columns, out)


def judge_set(folder: Path) -> list[Column]:
    """Judge all finders on one set.

    Parameters
    ----------
    folder : Path
        Pictures with their truth.

    Returns
    -------
    list of Column
        One a finder.
    """
    paths = truth_files(folder)
    if not paths:
        raise EyefindError(
            f"{folder} holds no NAME.truth.json.", "Name a folder with a rendered set."
        )
    # Processes are spawned since OpenCV's threads do not survive a fork; each gets one
    # core, so OpenCV is kept from taking them all.
    with ProcessPoolExecutor(
        mp_context=get_context("spawn"), initializer=cv2.setNumThreads, initargs=(1,)
    ) as pool:
        done = pool.map(look_at, paths)
        to_screen = Console(stderr=True)
        looked = list(track(done, folder.name, len(paths), console=to_screen))
    return as_columns(folder.name, looked)


def look_at(path: Path) -> Looked:
    """Judge all finders on the clump of one ``NAME.truth.json``."""
    rules = load_rules()
    truth, rgb, _ = read_truth(path)
    seen = see_whole(rgb, truth.px_per_mm)
    if seen is None:
        raise ModelError("The network's weights are needed.")
    scale = true_scale(truth)
    clump, anatomy = found_parts(rgb, scale, rules, seen)
    plain = found_parts(rgb, scale, rules, None)
    return Looked(
        judge(truth, rgb, clump, anatomy, rules, seen),
        judge(truth, rgb, *plain, rules, None),
        Places(*plain_eyes(rgb, clump, truth.px_per_mm)),
    )


def as_columns(set_name: str, looked: Sequence[Looked]) -> list[Column]:
    """Sort what was made of a set's clumps by finder."""
    network = [one.network for one in looked]
    classical = [one.classical for one in looked]
    return [
        Column(set_name, NETWORK, [(c.truth, c.eyes) for c in network], network),
        Column(set_name, CLASSICAL, [(c.truth, c.eyes) for c in classical], classical),
        Column(set_name, PLAIN, [(one.network.truth, one.plain) for one in looked], []),
    ]


def report(columns: Sequence[Column], out: Path | None = None) -> str:
    """Score what was judged; takes and gives what `evaluate` does."""
    tables = _with_gain(columns, [score(column) for column in columns])
    text = "\n".join(_heading(columns)) + as_markdown(columns, tables)
    if out is not None:
        plots = draw_plots(columns, out)
        text += "\n" + "\n".join(
            f"![{what}]({path.name})\n" for what, path in plots.items()
        )
        out.write_text(text, encoding="utf-8")
        numbers = msgspec.json.encode(
            [
                {"set": column.set_name, "finder": column.finder, "tables": some}
                for column, some in zip(columns, tables, strict=True)
            ]
        )
        out.with_suffix(".json").write_bytes(msgspec.json.format(numbers, indent=2))
    return text


def _with_gain(columns: Sequence[Column], tables: list[Tables]) -> list[Tables]:
    """Add to each other finder's tables how far the network is ahead of it."""
    heading = f"The network ahead, at {USUAL_FALSE:g} false flags a clump, of"
    network = {c.set_name: c for c in columns if c.finder == NETWORK}
    return [
        some
        if column.finder == NETWORK
        else {**some, heading: ahead(network[column.set_name], column)}
        for column, some in zip(columns, tables, strict=True)
    ]


def _heading(columns: Sequence[Column]) -> list[str]:
    lines = ["# Finders side by side", ""]
    for column in columns:
        if column.finder == NETWORK:
            truths = [truth for truth, _ in column.eyes]
            families = ", ".join(sorted({truth.family for truth in truths}))
            eyes = sum(len(truth.eyes) for truth in truths)
            lines.append(
                f"- {column.set_name}: {len(truths)} clumps of family {families}, "
                f"{eyes} visible eyes"
            )
    return [*lines, "", "In brackets: 95 % interval by drawing clumps.", "", ""]


def as_markdown(columns: Sequence[Column], tables: Sequence[Tables]) -> str:
    """Write tables side by side in Markdown.

    Parameters
    ----------
    columns : sequence of Column
        What was judged.
    tables : sequence of Tables
        The scores of each.

    Returns
    -------
    str
        Under each heading a table with one column for each finder that has one there.
    """
    headings = dict.fromkeys(heading for some in tables for heading in some)
    lines = []
    for heading in headings:
        shown = {
            column.name: some[heading]
            for column, some in zip(columns, tables, strict=True)
            if heading in some
        }
        rows = dict.fromkeys(row for table in shown.values() for row in table)
        lines += [f"## {heading}", "", _row("measure", shown)]
        lines.append(_row("---", ["---"] * len(shown)))
        lines += [
            _row(row, [str(table.get(row, "-")) for table in shown.values()])
            for row in rows
        ]
        lines.append("")
    return "\n".join(lines)


def _row(first: str, others: Iterable[str]) -> str:
    return f"| {' | '.join([first, *others])} |"
