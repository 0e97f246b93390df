"""The measures of a flag in plain words."""

from collections.abc import Callable

import numpy as np

from eyefind.data import Kind
from eyefind.look.candidates import Candidates
from eyefind.look.likelihood import NETWORK

Row = dict[str, float]

NOTED_L = 2.0
"""Differences of L* (or a*, b*) below this are not worth a word."""


def reasons_for(found: Candidates, index: int) -> list[str]:
    """Say what was measured of one candidate.

    Parameters
    ----------
    found : Candidates
        The candidates.
    index : int
        Which of them.

    Returns
    -------
    list of str
        One measure each, the most telling first.
    """
    row = {name: float(values[index]) for name, values in found.measures.items()}
    return _WORDS[found.kind](row, found.belongs_to[index])


def _eye(row: Row, owner: str | None) -> list[str]:
    words = []
    if row.get(NETWORK, -np.inf) >= 0:
        words.append("the learned finder takes its look for an eye's")
    if abs(row["lighter"]) >= NOTED_L:
        side = "lighter" if row["lighter"] > 0 else "darker"
        words.append(f"{side} than its surroundings by {abs(row['lighter']):.0f} L*")
    for name, positive, negative in (
        ("redder", "redder", "greener"),
        ("yellower", "yellower", "bluer"),
    ):
        if abs(row[name]) >= NOTED_L:
            side = positive if row[name] > 0 else negative
            words.append(f"{side} than its surroundings by {abs(row[name]):.0f}")
    if row["raised"] >= NOTED_L:
        words.append(f"raised: its lit side is {row['raised']:.0f} L* lighter")
    elif row["raised"] <= -NOTED_L:
        words.append("lit like a pit, not like a bump")
    words.append(f"{row['size_mm']:.1f} mm across")
    if owner is not None:
        words.append(f"{row['neck_mm']:.0f} mm above the neck of tuber {owner}")
    if row["glare"] > 0:
        words.append("glare on it or beside it: look again in other light")
    return words


def _spent_parent(row: Row, owner: str | None) -> list[str]:
    words = []
    if row.get(NETWORK, 0.0) >= 0.5:
        words.append("the learned finder takes most of it for spent tissue")
    if row["darker_by"] >= NOTED_L:
        words.append(f"{row['darker_by']:.0f} L* darker than the other tubers")
    for name, text in (
        ("duller", "less colour than the others"),
        ("wrinkled", "more wrinkled than the others"),
        ("ragged", "outline more shrunken than the others'"),
    ):
        if row[name] >= 1.0:
            words.append(text)
    if row["central"] >= 0.15:
        words.append("nearer the middle than the others")
    words.append("feel it: spent tubers are soft or hollow")
    return words


def _soft(row: Row, owner: str | None) -> list[str]:
    return [
        "dark, wet-looking patch: press it",
        f"{row['darker_by']:.0f} L* darker than the skin around it",
        f"{row['length_mm']:.0f} mm long",
    ]


def _tuber_on_tuber(row: Row, owner: str | None) -> list[str]:
    words = ["grows from another tuber, not from the crown: no eye"]
    if row["crown_mm"] < 99.0:
        words.append(f"its neck is {row['crown_mm']:.0f} mm from the crown")
    return words


def _rat_tail(row: Row, owner: str | None) -> list[str]:
    return [f"{row['width_mm']:.0f} mm thin over {row['length_mm']:.0f} mm"]


def _broken_neck(row: Row, owner: str | None) -> list[str]:
    words = [f"dark line across the neck, {row['crease']:.0f} L* deep"]
    if row["kink_deg"] >= 25.0:
        words.append(f"the neck bends by {row['kink_deg']:.0f} degrees")
    words.append("wobble it gently: a broken neck gives")
    return words


_WORDS: dict[Kind, Callable[[Row, str | None], list[str]]] = {
    "eye": _eye,
    "spent_parent": _spent_parent,
    "soft": _soft,
    "tuber_on_tuber": _tuber_on_tuber,
    "rat_tail": _rat_tail,
    "broken_neck": _broken_neck,
}
