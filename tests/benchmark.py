"""Speed and memory of the main job, as ratios within one run.

Run ``python tests/benchmark.py [PHOTO]``. A 12 MP JPEG (made from the photo) goes to a
record with a plan, on two cores at most; beside it stand the time that Pillow needs to
decode the same file, a plain scikit-image pipeline at the same working scale, and the
planning of round clumps with an eye a tuber.
"""

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import perf_counter

import numpy as np
from PIL import Image, ImageOps
from plan.timing import milliseconds

SAMPLES = Path(__file__).parent.parent / "sample_images"
SIZE_PX = (4000, 3000)
REPEATS = 5
CORES = 2


def main() -> None:
    """Measure and print."""
    photo = Path(sys.argv[1]) if len(sys.argv) > 1 else sorted(SAMPLES.glob("*.jpg"))[0]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "twelve-megapixels.jpg"
        upright = ImageOps.exif_transpose(Image.open(photo)).convert("RGB")
        ImageOps.fit(upright, SIZE_PX).save(path, quality=92)
        # First, for a process starts with the peak of the one that it comes from.
        peak_mb = peak_of_fresh_process(path)
        plans = {tubers: milliseconds(tubers)[0] / 1000 for tubers in (12, 40)}
        decode = seconds(lambda: np.asarray(Image.open(path)))
        job = seconds(lambda: run_job(path))
        plain = seconds(lambda: run_plain(path), repeats=1)
        main_frame = write_lamp_set(path)
        lamp_set = seconds(lambda: run_job(main_frame))
    print(f"photo                      {photo.name}, {SIZE_PX[0]} x {SIZE_PX[1]} px")
    print(f"cores                      {CORES}")
    print(f"Pillow decode              {decode:6.2f} s     1.0 x")
    print(f"photo to record with plan  {job:6.2f} s  {job / decode:6.1f} x")
    print(
        f"lamp set of four           {lamp_set:6.2f} s  {lamp_set / job:6.1f} x a photo"
    )
    print(f"plain scikit-image         {plain:6.2f} s  {plain / decode:6.1f} x")
    for tubers, plan in plans.items():
        print(f"plan of {tubers} tubers          {plan:6.3f} s  {plan / decode:6.2f} x")
    print(f"peak memory                {peak_mb:6.0f} MB")


def seconds(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Return the median duration of `work`, first run left out."""
    work()
    durations = []
    for _ in range(repeats):
        start = perf_counter()
        work()
        durations.append(perf_counter() - start)
    return median(durations)


def run_job(path: Path) -> None:
    """Go from the photo to a record with a plan, from scratch."""
    from eyefind.job import Job
    from eyefind.record import record_path
    from eyefind.rules import load_rules

    record_path(path, None).unlink(missing_ok=True)
    Job(load_rules()).plan(path)


def write_lamp_set(path: Path) -> Path:
    """Write four frames of the photo, each brighter on another side."""
    light = np.asarray(Image.open(path), dtype=np.float32)
    down, right = np.mgrid[-1 : 1 : light.shape[0] * 1j, -1 : 1 : light.shape[1] * 1j]
    main_frame = path.with_name("set.jpg")
    for number, slope in enumerate((right, -right, down, -down), start=1):
        name = "set.jpg" if number == 1 else f"set-lamp{number}.jpg"
        shaded = light * (0.7 + 0.6 * slope.clip(-0.5, 0.5))[..., None]
        pixels = shaded.clip(0, 255).astype(np.uint8)
        Image.fromarray(pixels).save(path.with_name(name), quality=92)
    return main_frame


def run_plain(path: Path) -> None:
    """Go from the photo to eye candidates with plain scikit-image parts."""
    from eyefind.look import find_clump
    from eyefind.photo import find_card, guess_scale
    from eyefind.rules import load_rules
    from eyefind.workshop.plain_parts import plain_eyes

    rgb = np.asarray(Image.open(path))
    card = find_card(rgb)
    clump = find_clump(rgb, None if card is None else card.outline_px)
    scale = guess_scale(clump, load_rules()) if card is None else card.scale
    plain_eyes(rgb, clump, scale.px_per_mm)


def peak_of_fresh_process(path: Path) -> float:
    """Return the peak resident memory, MB, of a process that does the job once."""
    code = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r}); "
        f"import benchmark; from pathlib import Path; "
        f"benchmark.run_job(Path({str(path)!r}))"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * unit / 1e6


if __name__ == "__main__":
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:CORES])
    main()
