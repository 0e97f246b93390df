"""Stand-ins for the finder: they see the painted clump's truth in any picture.

The tests of what lies around the finder (record, review, command line) must not hang
on what it finds.
"""

from collections.abc import Sequence
from concurrent.futures import Future
from functools import cache
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image
from records import the_painted_clump
from skimage.draw import polygon

from eyefind.data import Flag, Mask, Pixels
from eyefind.photo import guess_scale


@cache
def _png() -> bytes:
    stream = BytesIO()
    Image.fromarray(the_painted_clump().rgb).save(stream, "PNG")
    return stream.getvalue()


@cache
def _masks() -> tuple[Mask, Mask]:
    painted = the_painted_clump()
    clump, crown = (np.zeros(painted.rgb.shape[:2], bool) for _ in ("clump", "crown"))
    for mask, outline in (
        (clump, painted.anatomy.clump_outline_px),
        (crown, painted.anatomy.crown_outline_px),
    ):
        mask[polygon(outline[:, 0], outline[:, 1], shape=mask.shape)] = True
    return clump, crown


def painted_photo(path: Path) -> Path:
    """Write the painted clump as a photo (PNG, whatever its ending says)."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(_png())
    return path


class Finder:
    """What the stand-ins see; tests change `flags` or let `look` fail."""

    def __init__(self) -> None:
        painted = the_painted_clump()
        self.flags: list[Flag] = list(painted.flags)
        self.looks = 0
        self.further: Sequence[Pixels] = ()
        self.clump, self.crown = _masks()
        self.on_look = lambda: None

    def look_at(self, photo, scale, card_outline_px, rules, clump, seen, further):
        self.looks += 1
        self.further = further
        self.on_look()
        return SimpleNamespace(
            anatomy=the_painted_clump().anatomy,
            flags=list(self.flags),
            clump=clump,
            crown=self.crown,
            scale=scale or guess_scale(clump, rules),
            remarks=[],
        )


def install(patch: pytest.MonkeyPatch) -> Finder:
    """Put the stand-ins in the place of the finder."""
    finder = Finder()
    patch.setattr("eyefind.job.look_at", finder.look_at)
    patch.setattr("eyefind.job.find_clump", lambda *_: finder.clump)
    patch.setattr("eyefind.job.see_whole", lambda *_: None)
    patch.setattr("eyefind.job.find_card", lambda *_: None)
    return finder


class AtOnce:
    """Stands in for the worker's process: does the work when it is asked."""

    def __init__(self, name):
        self.closed = False

    def submit(self, work, *args):
        future = Future()
        future.set_running_or_notify_cancel()
        try:
            future.set_result(work(*args))
        except Exception as error:
            future.set_exception(error)
        return future

    def stop(self):
        pass

    def close(self):
        self.closed = True
