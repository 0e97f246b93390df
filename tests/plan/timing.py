"""How long planning takes for round clumps of 12 and of 40 tubers, an eye each.

Run: ``python tests/plan/timing.py`` (not a test: times depend on the machine).
"""

import sys
from pathlib import Path
from statistics import median
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from plan.clumps import SCALE, round_clump

from eyefind.plan import make_plan
from eyefind.rules import load_rules


def milliseconds(tubers: int, runs: int = 9) -> tuple[float, int]:
    """Return the median time of planning and the number of pieces."""
    radius = 20.0 + 2.2 * tubers
    turns = np.linspace(0, 360, tubers, endpoint=False) + 180 / tubers
    clump = round_clump([float(turn) for turn in turns], radius, radius)
    said = {flag.id: "confirmed" for flag in clump.flags}
    rules, times = load_rules(), []
    for _ in range(runs):
        start = perf_counter()
        plan = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", rules)
        times.append(1000 * (perf_counter() - start))
    return median(times), len(plan.pieces)


if __name__ == "__main__":
    for tubers in (12, 40):
        ms, pieces = milliseconds(tubers)
        print(f"{tubers} tubers: {ms:.0f} ms, {pieces} pieces")
