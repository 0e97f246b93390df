"""Makes the samples again: the folder ``sample_images``."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from eyefind.workshop.grow import Wishes
from eyefind.workshop.scene import Setting
from eyefind.workshop.write import Taken, write_clump

WIDTH_PX = 3200
OVERSAMPLE = 1.0
QUALITY = 85
"""JPEG quality: all pictures together must stay below 20 MB."""
LABEL_WIDTH_PX = 1600
LAMP_SET_WIDTH_PX = 1800
"""A lamp set is four pictures: all together must stay below 2 MB."""


@dataclass(frozen=True)
class Sample:
    """One sample.

    Attributes
    ----------
    name : str
        Bed, variety and number of the photograph.
    seed : int
        Decides what the rest leaves open.
    at : str
        Invented capture time.
    setting : Setting
        How it is photographed.
    orientation : int
        EXIF orientation of the file.
    width_px : int
        Width of the picture.
    """

    name: str
    seed: int
    at: str
    setting: Setting
    orientation: int = 1
    width_px: int = WIDTH_PX


SAMPLES = (
    Sample(
        "bed1-lantern-moth-1",
        303,
        "2024:11:02 10:14:31",
        Setting(
            "above",
            "slanting",
            "mat",
            card=True,
            clutter=False,
            aspect=4 / 3,
            wishes=Wishes(6, 1, 0, 0, 0, broken=False, soft=False, eyes=True),
        ),
    ),
    Sample(
        "bed1-lantern-moth-2",
        303,
        "2024:11:02 10:21:07",
        Setting(
            "side",
            "raking",
            "wood",
            card=True,
            clutter=True,
            aspect=4 / 3,
            wishes=Wishes(7, 1, 1, 0, 1, broken=False, soft=False, eyes=True),
        ),
    ),
    Sample(
        "bed2-ninefold-amber-1",
        302,
        "2024:11:02 11:02:55",
        Setting(
            "above",
            "raking",
            "wood",
            card=True,
            clutter=False,
            aspect=4 / 3,
            wishes=Wishes(9, 2, 1, 0, 0, broken=False, soft=False, eyes=True),
        ),
    ),
    Sample(
        "bed2-ninefold-amber-2",
        302,
        "2024:11:02 11:09:40",
        Setting(
            "oblique",
            "slanting",
            "newsprint",
            card=True,
            clutter=False,
            aspect=4 / 3,
            wishes=Wishes(8, 1, 1, 2, 0, broken=False, soft=False, eyes=True),
        ),
    ),
    Sample(
        "bed3-harrow-pink-1",
        304,
        "2024:11:03 09:37:12",
        Setting(
            "side",
            "slanting",
            "tray",
            card=True,
            clutter=False,
            aspect=3 / 4,
            wishes=Wishes(6, 1, 0, 0, 3, broken=False, soft=False, eyes=True),
        ),
        orientation=6,
    ),
    Sample(
        "bed3-harrow-pink-2",
        304,
        "2024:11:03 09:48:29",
        Setting(
            "oblique",
            "slanting",
            "soil",
            card=False,
            clutter=False,
            aspect=4 / 3,
            wishes=Wishes(7, 1, 1, 0, 1, broken=True, soft=False, eyes=True),
        ),
    ),
    Sample(
        "bed4-tallow-sparrow-1",
        313,
        "2024:11:03 10:30:03",
        Setting(
            "above",
            "slanting",
            "cloth",
            card=True,
            clutter=False,
            aspect=4 / 3,
            wishes=Wishes(8, 1, 1, 1, 0, broken=False, soft=True, eyes=True),
        ),
    ),
    Sample(
        "bed4-tallow-sparrow-2",
        303,
        "2024:11:03 10:36:44",
        Setting(
            "oblique",
            "frontal",
            "mat",
            card=True,
            clutter=False,
            aspect=4 / 3,
            spoilt=("blur",),
            wishes=Wishes(7, 1, 1, 0, 1, broken=False, soft=False, eyes=True),
        ),
    ),
    Sample(
        "bed4-tallow-sparrow-3",
        306,
        "2024:11:03 10:52:18",
        Setting(
            "above",
            "raking",
            "wood",
            card=True,
            clutter=False,
            aspect=4 / 3,
            lamps=4,
            wishes=Wishes(6, 1, 0, 0, 0, broken=False, soft=False, eyes=True),
        ),
        width_px=LAMP_SET_WIDTH_PX,
    ),
    Sample(
        "bed5-brickfield-jo-1",
        301,
        "2024:11:03 16:58:20",
        Setting(
            "oblique",
            "slanting",
            "mat",
            card=True,
            clutter=True,
            aspect=4 / 3,
            spoilt=("dark",),
            wishes=Wishes(9, 1, 1, 1, 0, broken=False, soft=False, eyes=True),
        ),
    ),
    Sample(
        "bed5-brickfield-jo-2",
        303,
        "2024:11:04 09:15:38",
        Setting(
            "oblique",
            "raking",
            "wood",
            card=True,
            clutter=True,
            aspect=4 / 3,
            wishes=Wishes(11, 2, 2, 1, 2, broken=False, soft=False, eyes=True),
        ),
    ),
)
"""The samples, by bed."""


def write_samples(folder: Path, device: str = "cpu") -> Iterator[str]:
    """Render all samples with their truth.

    Parameters
    ----------
    folder : Path
        Where the files go.
    device : str
        Where torch works.

    Yields
    ------
    str
        Name of each sample, once it is written.
    """
    for sample in SAMPLES:
        taken = Taken(sample.at, sample.orientation, QUALITY, LABEL_WIDTH_PX)
        write_clump(
            folder,
            sample.name,
            sample.seed,
            sample.width_px,
            device,
            OVERSAMPLE,
            sample.setting,
            taken,
        )
        yield sample.name
