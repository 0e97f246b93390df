"""A plan in the making: cuts without numbers, and what cleaning leaves."""

from dataclasses import dataclass, field

from shapely import LineString

from eyefind.data import Discard, Tool
from eyefind.plan.how import How
from eyefind.plan.parts import Body, StemPart


@dataclass(frozen=True, eq=False)
class Draft:
    """A cut that has no number yet; fields as in `eyefind.data.Cut`, and more.

    Attributes
    ----------
    tools : tuple of Tool
        What it may be made with, the best first.
    thick_px : float
        How thick what is cut is.
    own, frees : tuple of str
        Ids of what is cut itself, and of what leaves the bench with it.
    """

    purpose: str
    path: LineString
    tool: Tool
    why: str
    how: How
    tools: tuple[Tool, ...] = ()
    thick_px: float = 0.0
    own: tuple[str, ...] = ()
    frees: tuple[str, ...] = ()


@dataclass(eq=False)
class Cleaned:
    """What stays after cleaning, what leaves and by which cuts.

    Attributes
    ----------
    bodies : dict of str to Body
        The tubers that stay, trimmed.
    stems : list of StemPart
        The stubs.
    drafts, discards, warnings : list
        As in the plan.
    failed : dict of str to str
        Flag id -> why its cut was left out.
    """

    bodies: dict[str, Body]
    stems: list[StemPart]
    drafts: list[Draft] = field(default_factory=list)
    discards: list[Discard] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    failed: dict[str, str] = field(default_factory=dict)

    def copied(self) -> "Cleaned":
        """Return a copy that may be added to."""
        return Cleaned(
            dict(self.bodies),
            list(self.stems),
            list(self.drafts),
            list(self.discards),
            list(self.warnings),
            dict(self.failed),
        )
