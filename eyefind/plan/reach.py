"""Whether a hand with its tool gets at a cut: the free way to it from outside."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from eyefind.data import Tool
from eyefind.plan import how
from eyefind.plan.drafts import Draft
from eyefind.plan.standing import Eye
from eyefind.rules import Rules

Shapes = dict[str, shapely.Geometry]
"""What lies on the bench, by its id."""


class Size(NamedTuple):
    """How large a tool is, in px.

    Attributes
    ----------
    wide : float
        Across the stroke.
    opens : float
        Thicker things do not go between its jaws.
    long : float
        Longer strokes it does not make.
    """

    wide: float
    opens: float
    long: float


class Way(NamedTuple):
    """The way of a tool to a cut.

    Attributes
    ----------
    path : LineString
        From where the tool enters.
    blocked_by : tuple of str
        Ids of what lies in the way, that across the cut itself too.
    across : tuple of str
        Ids of what lies across the cut itself.
    """

    path: LineString
    blocked_by: tuple[str, ...]
    across: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Reach:
    """Finds the ways of tools to cuts.

    The tool comes along the stroke from outside, flat on the clump. Its way is the
    stroke itself, as a line, and before it a strip as wide as the tool and as long as
    the rule `approach_mm`. No body that still lies there may reach into it, nor may it
    come nearer to an eye than any cut. What lies over or under the strip no photo
    tells.

    Attributes
    ----------
    sizes : dict of Tool to Size
        The tools.
    approach_px : float
        Length of the strip.
    knife_room_px : float
        Room that a knife needs beside a stroke, beyond the margins.
    eyes : sequence of Eye
        The eyes that count.
    """

    sizes: dict[Tool, Size]
    approach_px: float
    knife_room_px: float
    eyes: Sequence[Eye]

    def way(
        self, path: LineString, tool: Tool, there: Shapes, own: Collection[str] = ()
    ) -> Way:
        """Return the better of the ways in from both ends of a path.

        Parameters
        ----------
        path : LineString
            The cut, drawn from one end to the other.
        tool : str
            The tool.
        there : dict of str to geometry
            What lies on the bench when the cut is made.
        own : collection of str
            Ids of what is cut itself.
        """
        ways = [self.way_in(p, tool, there, own) for p in (path, path.reverse())]
        return min(ways, key=lambda way: len(way.blocked_by))

    def way_in(
        self, path: LineString, tool: Tool, there: Shapes, own: Collection[str] = ()
    ) -> Way:
        """Return the way in from the first point of a path; see `way`."""
        strip = self.strip(path, tool)
        names = [name for name in there if name not in own]
        shapes = np.array([there[name] for name in names], dtype=object)
        over = shapely.intersects(shapes, path)
        hit = over | shapely.intersects(shapes, strip)
        blocked = [name for name, is_hit in zip(names, hit, strict=True) if is_hit]
        across = [name for name, is_over in zip(names, over, strict=True) if is_over]
        line = LineString([path.coords[0], self._outside(path)])
        blocked += [
            eye.id
            for eye in self.eyes
            if not eye.side and line.dwithin(eye.place, eye.guard_px)
        ]
        return Way(path, tuple(blocked), tuple(across))

    def strip(self, path: LineString, tool: Tool) -> shapely.Polygon:
        """Return where the tool lies before it meets the first point of a path."""
        line = LineString([path.coords[0], self._outside(path)])
        return line.buffer(self.sizes[tool].wide / 2, cap_style="flat")

    def _outside(self, path: LineString) -> NDArray[np.float64]:
        first, second = np.array(path.coords[:2])
        way = first - second
        out: NDArray[np.float64] = first + way / np.hypot(*way) * self.approach_px
        return out

    def strong(
        self, tools: Iterable[Tool], thick_px: float, long_px: float
    ) -> list[Tool]:
        """Return those of `tools` that manage a cut, in their order; at least one."""
        tools = list(tools)
        able = [
            tool
            for tool in tools
            if thick_px <= self.sizes[tool].opens and long_px <= self.sizes[tool].long
        ]
        return able or tools[-1:]


def make_reach(eyes: Sequence[Eye], rules: Rules, px_per_mm: float) -> Reach:
    """Return what finds the ways of the tools of the rules."""

    def px(name: str) -> float:
        return rules.value(name) * px_per_mm

    snips = Size(px("snips_width_mm"), px("snips_reach_mm"), px("snips_blade_mm"))
    secateurs = Size(px("secateurs_width_mm"), px("secateurs_reach_mm"), inf)
    sizes: dict[Tool, Size] = {
        "fine-point snips": snips,
        "secateurs": secateurs,
        "knife": Size(px("knife_thickness_mm"), inf, inf),
    }
    return Reach(sizes, px("approach_mm"), px("knife_room_mm"), eyes)


def in_reach(drafts: Sequence[Draft], there: Shapes, reach: Reach) -> list[Draft]:
    """Put cuts that take something off in an order in which each is reached.

    A cut waits for those that free its way; else they stay in their order. Each gets
    the smallest tool that is strong enough and has a free way. Where there is none the
    step says what lies in the way.

    Parameters
    ----------
    drafts : sequence of Draft
        In the order that is liked best.
    there : dict of str to geometry
        What lies on the bench before the first of them.
    reach : Reach
        Finds the ways.

    Returns
    -------
    list of Draft
        With tools, and paths that begin where the tool enters.
    """
    there, left, done = dict(there), list(drafts), []

    def waits(number: int, way: Way) -> bool:
        """Tell whether other cuts make the way of the cut of this number freer."""
        if not way.blocked_by:
            return False
        others = [draft for k, draft in enumerate(left) if k != number]
        gone = {name for draft in others for name in draft.frees}
        later = {name: shape for name, shape in there.items() if name not in gone}
        _, then = _told(left[number], later, reach)
        return len(then.blocked_by) < len(way.blocked_by)

    while left:
        told = [_told(draft, there, reach) for draft in left]
        chosen = next((k for k, (_, way) in enumerate(told) if not waits(k, way)), 0)
        draft = left.pop(chosen)
        tool, way = told[chosen]
        # What leaves as a whole may be lifted; all else hangs fast on the crown.
        loose = {
            name for later in left if later.own == later.frees for name in later.own
        }
        over = [name for name in way.across if name in loose]
        past = how.past(draft.how, way.blocked_by, over)
        done.append(replace(draft, tool=tool, path=way.path, how=past))
        for name in draft.frees:
            there.pop(name, None)
    return done


def _told(draft: Draft, there: Shapes, reach: Reach) -> tuple[Tool, Way]:
    """Return the tool for a cut, and its way."""
    tools = reach.strong(draft.tools, draft.thick_px, draft.path.length)
    ways = [(tool, reach.way(draft.path, tool, there, draft.own)) for tool in tools]
    return min(ways, key=lambda found: len(found[1].blocked_by) > 0)
