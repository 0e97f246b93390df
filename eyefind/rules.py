"""The rules of the trade: values with unit, range and source, from one file.

The rules come from ``rules.toml`` beside this module. A grower's own file may
override any value: ``NAME = VALUE``, one a line, in TOML.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

from eyefind.errors import UsageError


@dataclass(frozen=True)
class Rule:
    """One rule.

    Attributes
    ----------
    value : float
        What is used, in `unit`.
    low, high : float
        What the sources span.
    unit, source, says : str
        Unit, where it comes from, and the rule in words.
    """

    value: float
    low: float
    high: float
    unit: str
    source: str
    says: str


class Rules(Mapping[str, Rule]):
    """All rules by name; ``rules.value("stem_stub_mm")`` gives the number used."""

    def __init__(self, rules: dict[str, Rule]) -> None:
        self._rules = rules

    def __getitem__(self, name: str) -> Rule:
        return self._rules[name]

    def __iter__(self):  # type: ignore[no-untyped-def]
        return iter(self._rules)

    def __len__(self) -> int:
        return len(self._rules)

    def value(self, name: str) -> float:
        """Return the number that rule `name` sets, in its unit."""
        return self._rules[name].value


def load_rules(own_file: Path | None = None) -> Rules:
    """Read the rules, then the grower's own file over them.

    Parameters
    ----------
    own_file : Path, optional
        TOML file with lines ``NAME = VALUE``.

    Returns
    -------
    Rules
        All rules.

    Raises
    ------
    UsageError
        If the own file cannot be read, names an unknown rule or gives no number.
    """
    text = files("eyefind").joinpath("rules.toml").read_text(encoding="utf-8")
    rules = {
        name: Rule(
            float(entry["value"]),
            float(entry["range"][0]),
            float(entry["range"][1]),
            entry["unit"],
            entry["source"],
            entry["says"],
        )
        for name, entry in tomllib.loads(text).items()
    }
    if own_file is not None:
        for name, value in _read_own(own_file).items():
            if name not in rules:
                raise UsageError(
                    f"{own_file} sets '{name}', which is not a rule.",
                    f"The rules are: {', '.join(rules)}.",
                )
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise UsageError(
                    f"{own_file} sets {name} to {value!r}, which is not a number.",
                    f"Write for example: {name} = {rules[name].value:g}",
                )
            rules[name] = replace(
                rules[name], value=float(value), source=f"your file {own_file.name}"
            )
    return Rules(rules)


def _read_own(own_file: Path) -> dict[str, object]:
    try:
        return tomllib.loads(own_file.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise UsageError(
            f"Your rules file {own_file} cannot be read: {error}.",
            "Each line must read: NAME = VALUE",
        ) from error
