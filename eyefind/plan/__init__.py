"""Cut plans: pieces, cuts in the order of work, and what leaves.

The way of a plan: ``parts`` makes the anatomy sound, ``standing`` takes the grower's
word, ``targets`` and ``clean`` take off what must not be stored, ``divide`` parts what
is left: ``crossing`` between stems, else ``fan`` draws strokes to a hub, ``ring`` and
``choose`` pick some, ``order`` sorts them.
``pieces`` and ``caveats`` say what came of it. ``guard`` holds the hard rules that
every cut is asked, ``words`` every sentence.
"""

from eyefind.plan.planner import make_plan

__all__ = ["make_plan"]
