"""Which clumps to divide further and which to keep whole, over the whole season.

A mixed-integer programme, solved by HiGHS (Huangfu and Hall 2018, Math. Program.
Comput. 10:119-142) through SciPy: each clump takes one way; together they must fit the
store; plants that stay short cost most, then clumps that find no room, then cuts,
then room.
"""

from dataclasses import dataclass
from itertools import count
from math import inf

import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from eyefind.errors import EyefindError
from eyefind.rules import Rules
from eyefind.season.counts import NO_VARIETY, chance_of_at_least, loss_of
from eyefind.season.ledger import Ledger
from eyefind.season.store import litres_needed, room_litres
from eyefind.season.tables import Season

SHORT_COST, OUT_COST, CUT_COST, LITRE_COST = 100.0, 10.0, 1.0, 0.01
"""A plant short, a clump without room, a cut, a litre of the store: each outweighs
several of the next."""
OUT, CUT = "no room", "cut"
"""What is no style of a plan: left out of the store, and cut already."""
SECONDS = 20.0
"""The best solution found until then is taken."""
GAP = 1e-4


@dataclass(frozen=True)
class Option:
    """One way for one clump.

    Attributes
    ----------
    style : str
        One of `eyefind.data.Style`, `OUT` or `CUT`.
    chances : tuple of float
        Chance of each piece to have an eye.
    litres : float
        Room in store.
    cuts : int
        How many cuts.
    """

    style: str
    chances: tuple[float, ...]
    litres: float
    cuts: int


@dataclass(frozen=True)
class Choice:
    """What is suggested for one clump.

    Attributes
    ----------
    clump, variety : str
        Names.
    option : Option
        The way.
    """

    clump: str
    variety: str
    option: Option


@dataclass(frozen=True)
class Suggestion:
    """What is suggested for the season.

    Attributes
    ----------
    choices : list of Choice
        One a clump.
    short : dict of str to float
        Plants that stay short of what makes reaching the count likely, by variety.
    litres, room : float
        Room that it takes, and that there is; infinite when no box is known.
    proven : bool
        Whether nothing better exists (within the solver's gap).
    """

    choices: list[Choice]
    short: dict[str, float]
    litres: float
    room: float
    proven: bool


def suggest(ledger: Ledger, season: Season, rules: Rules) -> Suggestion:
    """Suggest a way for each clump that is not cut yet.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    rules : Rules
        ``reach_chance`` says how likely a count must be reached; packing and loss.

    Returns
    -------
    Suggestion
        The best for the whole season, under the room of its boxes.
    """
    kept = 1 - loss_of(season, rules)
    clumps = _options(ledger, season, rules)
    needs = {
        row["name"]: row["need"]
        for row in ledger.ask(_NEEDS, season.id, season.garden_id)
    }
    goals = {
        variety: goal_for(need, _chances(clumps, variety), kept, rules)
        for variety, need in needs.items()
    }
    room = room_litres(ledger, season)
    return choose(clumps, goals, kept, room)


def goal_for(need: int, chances: list[float], kept: float, rules: Rules) -> float:
    """Return how many plants to expect so that `need` are reached as likely as wished.

    Pieces are taken as alike, with the mean of `chances`.
    """
    mean = kept * float(np.mean(chances)) if chances else 0.0
    if need == 0 or mean <= 0:
        return float(need)
    wished = rules.value("reach_chance")
    pieces = next(
        n
        for n in count(need)
        if n >= 10 * need / mean + 50 or chance_of_at_least(need, [mean] * n) >= wished
    )
    return pieces * mean


def choose(
    clumps: dict[tuple[str, str], list[Option]],
    goals: dict[str, float],
    kept: float,
    room: float,
) -> Suggestion:
    """Choose one option a clump.

    Parameters
    ----------
    clumps : dict
        Options by (clump, variety).
    goals : dict
        Plants to expect by variety.
    kept : float
        Share that the store keeps.
    room : float
        Litres.

    Returns
    -------
    Suggestion
        The best choice.

    Raises
    ------
    EyefindError
        If the solver finds none.
    """
    # While there is room no variety takes any from another, and each alone is easy.
    alone = [
        _solve(
            {name: ways for name, ways in clumps.items() if name[1] == variety},
            {variety: goals[variety]} if variety in goals else {},
            kept,
            inf,
        )
        for variety in {**goals, **dict.fromkeys(variety for _, variety in clumps)}
    ]
    litres = sum(found.litres for found in alone)
    if litres > room:
        return _solve(clumps, goals, kept, room)
    order = {name: place for place, name in enumerate(clumps)}
    return Suggestion(
        sorted(
            (choice for found in alone for choice in found.choices),
            key=lambda choice: order[choice.clump, choice.variety],
        ),
        {name: plants for found in alone for name, plants in found.short.items()},
        litres,
        room,
        all(found.proven for found in alone),
    )


def _solve(
    clumps: dict[tuple[str, str], list[Option]],
    goals: dict[str, float],
    kept: float,
    room: float,
) -> Suggestion:
    """Choose for all clumps at once, see `choose`."""
    names = list(clumps)
    flat = [(k, option) for k, name in enumerate(names) for option in clumps[name]]
    varieties = list(goals)
    if not flat:
        return Suggestion([], dict(goals), 0.0, room, True)
    cost = np.concatenate(
        [[_cost(option) for _, option in flat], np.full(len(varieties), SHORT_COST)]
    )
    upper = np.append(np.ones(len(flat)), np.full(len(varieties), np.inf))
    found = milp(
        cost,
        integrality=np.append(np.ones(len(flat)), np.zeros(len(varieties))),
        bounds=Bounds(0, upper),
        constraints=_constraints(names, flat, goals, kept, room),
        options={"time_limit": SECONDS, "mip_rel_gap": GAP},
    )
    if found.x is None:
        raise EyefindError(
            f"No division of the season was found: {found.message}.",
            "Please report it.",
        )
    chosen = [flat[j] for j in np.flatnonzero(found.x[: len(flat)] > 0.5)]
    return Suggestion(
        [Choice(*names[k], option) for k, option in chosen],
        dict(zip(varieties, found.x[len(flat) :].tolist(), strict=True)),
        sum(option.litres for _, option in chosen),
        room,
        found.status == 0,
    )


def _constraints(
    names: list[tuple[str, str]],
    flat: list[tuple[int, Option]],
    goals: dict[str, float],
    kept: float,
    room: float,
) -> list[LinearConstraint]:
    """Return: one way a clump, the room, and plants with what is short at the goals.

    The unknowns are one for each of `flat` (0 or 1), then what is short by variety.
    """
    varieties = list(goals)
    wide = len(flat) + len(varieties)
    one_way = _matrix([(k, j, 1.0) for j, (k, _) in enumerate(flat)], len(names), wide)
    litres = [option.litres for _, option in flat] + [0.0] * len(varieties)
    found = [
        LinearConstraint(one_way, 1, 1),
        LinearConstraint(np.array(litres), -np.inf, room),
    ]
    if varieties:
        enough = [
            (varieties.index(names[k][1]), j, kept * sum(option.chances))
            for j, (k, option) in enumerate(flat)
            if names[k][1] in goals
        ]
        enough += [(v, len(flat) + v, 1.0) for v in range(len(varieties))]
        least = np.array(list(goals.values()))
        plants = _matrix(enough, len(varieties), wide)
        found.append(LinearConstraint(plants, least, np.inf))
    return found


def _cost(option: Option) -> float:
    if option.style == OUT:
        return OUT_COST
    return CUT_COST * option.cuts + LITRE_COST * option.litres


def _matrix(
    entries: list[tuple[int, int, float]], rows: int, columns: int
) -> "coo_array[NDArray[np.float64]]":
    row, column, value = zip(*entries, strict=True)
    return coo_array((value, (row, column)), shape=(rows, columns))


def _options(
    ledger: Ledger, season: Season, rules: Rules
) -> dict[tuple[str, str], list[Option]]:
    """Return the options of each clump; what was cut has its pieces as the only one."""
    clumps: dict[tuple[str, str], list[Option]] = {}
    for row in ledger.ask(_WAYS, season.id, season.id):
        chances = tuple(msgspec.json.decode(row["chances"]))
        litres = litres_needed(msgspec.json.decode(row["volumes_ml"]), rules)
        key = (row["clump"], row["variety"] or NO_VARIETY)
        left_out = [] if row["style"] == CUT else [Option(OUT, (), 0.0, 0)]
        option = Option(row["style"], chances, litres, row["cuts"])
        options = clumps.setdefault(key, left_out)
        # Of ways to the same pieces the one of fewest cuts will do.
        same = [old for old in options if old.chances == option.chances]
        if all(option.cuts < old.cuts for old in same):
            clumps[key] = [*(old for old in options if old not in same), option]
    return clumps


def _chances(clumps: dict[tuple[str, str], list[Option]], variety: str) -> list[float]:
    """Return the chances of all pieces of a variety, were it divided furthest."""
    return [
        chance
        for (_, name), options in clumps.items()
        if name == variety
        for chance in max((option.chances for option in options), key=len)
    ]


_NEEDS = """
    SELECT variety.name, wish.wanted + wish.give_away AS need
    FROM wish JOIN variety ON variety.id = wish.variety_id
    WHERE wish.season_id = ? AND variety.garden_id = ?
        AND wish.binned_at IS NULL AND variety.binned_at IS NULL
"""

_WAYS = """
    SELECT clump.name AS clump, variety.name AS variety, way.style, way.cuts,
        way.chances, way.volumes_ml, way.id
    FROM way JOIN clump ON clump.id = way.clump_id
    LEFT JOIN variety ON variety.id = clump.variety_id
    WHERE clump.season_id = ? AND clump.binned_at IS NULL AND clump.cut_on IS NULL
    UNION ALL
    SELECT clump.name, variety.name, 'cut', 0,
        json_group_array(piece.eye_chance), json_group_array(piece.volume_ml), 0
    FROM piece JOIN clump ON clump.id = piece.clump_id
    LEFT JOIN variety ON variety.id = clump.variety_id
    WHERE clump.season_id = ? AND clump.binned_at IS NULL
        AND clump.cut_on IS NOT NULL AND piece.binned_at IS NULL
    GROUP BY clump.id
    ORDER BY clump, 7
"""
