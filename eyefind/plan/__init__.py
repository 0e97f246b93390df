"""Cut plans: pieces, cuts in the order of work, and what leaves.

The way of a plan: ``parts`` makes the anatomy sound, ``standing`` takes the grower's
word, ``targets``, ``clean``, ``stubs`` and ``oversize`` take off what must not be
stored. What is left is seen as a ``skeleton``: parts around stems, the seams between
them (``crossing``) and strokes to hubs (``fan``, ``ring``), each with its ``costs``.
``programme`` finds the best plan for every number of safe pieces, exactly and without
geometry (``circle`` around one hub, ``worth`` of a piece); ``divide`` picks one, and
``order`` and ``split_drafts`` turn it into cuts. ``pieces`` and ``caveats`` say what
came of it. ``guard`` holds the hard rules that every cut is asked, ``words`` and
``how`` every sentence.
"""

from eyefind.plan.planner import make_plan

__all__ = ["make_plan"]
