"""Random crowns for the programme, and two oracles that share no code with it."""

from dataclasses import dataclass
from itertools import chain, combinations, product

import numpy as np
from scipy.optimize import LinearConstraint, milp

from eyefind.plan.programme import Crown, Joint, Ring
from eyefind.plan.worth import weight_of

SAFE = 0.9
CHANCES = [0.0, 0.0, 0.0, 0.3, 0.6, 0.85, 0.9, 1.0]


def random_crown(seed: int, most_slots: int = 5, most_cells: int = 3) -> Crown:
    """One to three stems, up to two hubs a cell; fewer strokes where there are more."""
    random = np.random.default_rng(seed)
    count = int(random.integers(1, most_cells + 1))
    between = [(int(random.integers(0, cell)), cell) for cell in range(1, count)]
    joints = [Joint(pair, float(random.uniform(0, 0.2))) for pair in between]
    rings = []
    for cell in range(count):
        own = [number for number, pair in enumerate(between) if cell in pair]
        rings.append(
            [
                _ring(random, own, most_slots + 1 - count)
                for _ in range(random.integers(1, 3))
            ]
        )
    return Crown(rings, joints)


def _ring(random: np.random.Generator, joints: list[int], most: int) -> Ring:
    strokes = int(random.integers(0, most + 1))
    slots = max(strokes, 1)
    tubers = random.integers(0, 3, slots)
    sound = np.minimum(tubers, random.integers(0, 3, slots))
    eyes = [weight_of(chance) for chance in random.choice(CHANCES, slots)]
    bodies = weight_of(0.9) * sound + weight_of(0.5) * (tubers - sound)
    return Ring(
        random.uniform(0, 0.2, strokes),
        np.stack([eyes, bodies, sound], axis=1),
        {joint: int(random.integers(0, slots)) for joint in joints},
    )


@dataclass(frozen=True)
class Arc:
    """What lies between two strokes of a ring: its slots, and its first stroke."""

    slots: tuple[int, ...]
    first: int | None


def value(load: np.ndarray) -> float | None:
    """Return what a piece is worth; None if it is not safe."""
    eye = 1.0 - np.exp(-load[0])
    if eye < SAFE - 1e-9 or load[2] < 1:
        return None
    return float(eye * (1.0 - np.exp(-load[1])))


def brute(crown: Crown) -> tuple[dict[int, float], int]:
    """Look at every plan there is.

    Returns the best worth for each number of pieces that are all safe, and the most
    safe pieces of any plan, pieces in doubt allowed.
    """
    best: dict[int, float] = {}
    most = 0
    cells = [_divisions(rings) for rings in crown.rings]
    for division in product(*cells):
        for kept in product([False, True], repeat=len(crown.joints)):
            values, cost = _pieces(crown, division, kept)
            safe = [v for v in values if v is not None]
            most = max(most, len(safe))
            if len(safe) == len(values):
                worth = sum(safe) - cost
                best[len(safe)] = max(best.get(len(safe), -np.inf), worth)
    return best, most


def _divisions(rings: list[Ring]) -> list[tuple[Ring, tuple[int, ...]]]:
    found = []
    for ring in rings:
        strokes = range(len(ring.cost))
        sizes = [0, *range(2, len(ring.cost) + 1)]
        found += [(ring, c) for n in sizes for c in combinations(strokes, n)]
    return found


def _arcs(ring: Ring, chosen: tuple[int, ...]) -> list[Arc]:
    count = len(ring.load)
    if not chosen:
        return [Arc(tuple(range(count)), None)]
    arcs = []
    for first, second in zip(chosen, chosen[1:] + chosen[:1], strict=True):
        span = (second - first) % count
        arcs.append(Arc(tuple((first + k) % count for k in range(span)), first))
    return arcs


def _pieces(crown, division, kept):
    nodes = [
        (cell, arc)
        for cell, (ring, chosen) in enumerate(division)
        for arc in _arcs(ring, chosen)
    ]
    group = list(range(len(nodes)))
    cost = sum(float(ring.cost[list(chosen)].sum()) for ring, chosen in division)
    for number, joint in enumerate(crown.joints):
        if not kept[number]:
            cost += joint.cost
            continue
        ends = [
            next(
                n
                for n, (cell, arc) in enumerate(nodes)
                if cell == end and division[cell][0].slot[number] in arc.slots
            )
            for end in joint.cells
        ]
        old, new = group[ends[0]], group[ends[1]]
        group = [new if g == old else g for g in group]
    loads = {g: np.zeros(3) for g in group}
    for (cell, arc), g in zip(nodes, group, strict=True):
        loads[g] += division[cell][0].load[list(arc.slots)].sum(axis=0)
    return [value(load) for load in loads.values()], cost


def by_milp(crown: Crown, pieces: int) -> float | None:
    """Return the best worth with so many safe pieces by integer programming.

    One column for every piece that could be; rows: each slot of the ring that is
    taken lies in one piece, each joint is in one piece or cut.
    """
    columns = [c for c in _columns(crown) if c[0] is not None]
    takes = [(cell, ring) for cell, rings in enumerate(crown.rings) for ring in rings]
    cuts = len(crown.joints)
    size = len(columns) + len(takes) + cuts
    gain = np.zeros(size)
    rows, totals = [], []
    for number, (worth, arcs, _) in enumerate(columns):
        gain[number] = worth - sum(
            ring.cost[arc.first] for _, ring, arc in arcs if arc.first is not None
        )
    for number, joint in enumerate(crown.joints):
        gain[len(columns) + len(takes) + number] = -joint.cost
        row = np.zeros(size)
        row[: len(columns)] = [number in kept for _, _, kept in columns]
        row[len(columns) + len(takes) + number] = 1
        rows.append(row)
        totals.append(1)
    for cell in range(len(crown.rings)):
        row = np.zeros(size)
        row[len(columns) : len(columns) + len(takes)] = [c == cell for c, _ in takes]
        rows.append(row)
        totals.append(1)
    for number, (_, taken) in enumerate(takes):
        for slot in range(len(taken.load)):
            row = np.zeros(size)
            row[: len(columns)] = [
                any(ring is taken and slot in arc.slots for _, ring, arc in arcs)
                for _, arcs, _ in columns
            ]
            row[len(columns) + number] = -1
            rows.append(row)
            totals.append(0)
    count = np.zeros(size)
    count[: len(columns)] = 1
    limits = LinearConstraint(np.array([*rows, count]), *2 * [[*totals, pieces]])
    found = milp(-gain, constraints=limits, integrality=1, bounds=(0, 1))
    return None if found.x is None else float(-found.fun)


def _columns(crown: Crown):
    """Give every piece that could be: its worth, its arcs, the joints it keeps."""
    for count in range(len(crown.joints) + 1):
        for kept in combinations(range(len(crown.joints)), count):
            for cells in _joined(crown, kept):
                for arcs in product(*(_all_arcs(crown, cell) for cell in cells)):
                    if all(_meets(crown, arcs, joint) for joint in kept):
                        load = sum(
                            ring.load[list(arc.slots)].sum(axis=0)
                            for _, ring, arc in arcs
                        )
                        yield value(load), arcs, kept


def _joined(crown: Crown, kept: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Return the cells that the joints hold together as one piece, if they do."""
    if not kept:
        return [(cell,) for cell in range(len(crown.rings))]
    cells = set(crown.joints[kept[0]].cells)
    for _ in kept:
        for joint in kept:
            if cells & set(crown.joints[joint].cells):
                cells |= set(crown.joints[joint].cells)
    all_cells = set(chain.from_iterable(crown.joints[j].cells for j in kept))
    return [tuple(sorted(cells))] if cells == all_cells else []


def _all_arcs(crown: Crown, cell: int):
    arcs = []
    for ring in crown.rings[cell]:
        count = len(ring.cost)
        arcs.append((cell, ring, Arc(tuple(range(len(ring.load))), None)))
        for first in range(count):
            for span in range(1, count):
                slots = tuple((first + k) % count for k in range(span))
                arcs.append((cell, ring, Arc(slots, first)))
    return arcs


def _meets(crown: Crown, arcs, joint: int) -> bool:
    ends = crown.joints[joint].cells
    return all(
        any(c == end and ring.slot[joint] in arc.slots for c, ring, arc in arcs)
        for end in ends
    )
