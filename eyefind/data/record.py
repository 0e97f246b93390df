"""All that is known of one clump."""

from dataclasses import dataclass, field

from eyefind.data.anatomy import Anatomy
from eyefind.data.flags import Decision, Flag
from eyefind.data.photo import FrameFacts, PhotoFacts, Remark, Scale
from eyefind.data.plan import Plan


@dataclass(frozen=True, eq=False)
class Record:
    """Everything known of one clump: the content of ``NAME.eyefind.json``.

    All places are those of `photo`; `frames` are the further photos of its lamp set.
    """

    photo: PhotoFacts
    scale: Scale
    remarks: list[Remark]
    anatomy: Anatomy
    flags: list[Flag]
    decisions: list[Decision] = field(default_factory=list)
    plan: Plan | None = None
    frames: list[FrameFacts] = field(default_factory=list)
