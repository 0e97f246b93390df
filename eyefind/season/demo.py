"""The demo season by one command: rendered, looked at, stored, checked, grown.

What the grower answered, what a check found and what grew is drawn by chance from the
likelihoods (a fixed seed): it shows how the season is told, and proves nothing.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from eyefind.errors import UsageError
from eyefind.job import Job
from eyefind.review import Review
from eyefind.rules import Rules, load_rules
from eyefind.season import LEDGER_NAME
from eyefind.season.batch import look_at_all, waiting_photos
from eyefind.season.binding import refresh
from eyefind.season.demo_garden import (
    GARDEN,
    GROWER,
    VARIETIES,
    YEAR,
    demo_clumps,
    demo_photos,
    render_photos,
)
from eyefind.season.garden import (
    all_pieces,
    find_clump,
    set_box,
    set_clumps,
    set_wish,
    start_season,
)
from eyefind.season.ledger import Ledger
from eyefind.season.placing import move_photo, place_new
from eyefind.season.spring import note_growth
from eyefind.season.store import keep_plan, plan_boxes
from eyefind.season.tables import ClumpPhoto, Season, StoredPiece
from eyefind.season.winter import note_check

LIFTED, CUT = date(YEAR, 11, 7), date(YEAR, 11, 8)
CHECKED, GREW = date(YEAR + 1, 1, 10), date(YEAR + 1, 4, 20)
LOST, SHRIVELLED = 0.07, 0.15
BOXES = (("A", 40.0), ("B", 40.0), ("C", 25.0))
LIGHTS = {0: "raking", 1: "slanting", 2: "raking"}
"""As `demo_garden` lights clump number n, by the remainder of n by 3."""
SURE = 0.5
"""The invented grower confirms likelier eyes and rejects the others."""


def make_demo(folder: Path) -> Iterator[str]:
    """Make the demo season; what is there already is used again.

    Parameters
    ----------
    folder : Path
        Where to.

    Yields
    ------
    str
        What was done, step by step.

    Raises
    ------
    UsageError
        If there is a ledger already.
    """
    if (folder / LEDGER_NAME).exists():
        raise UsageError(
            f"{folder / LEDGER_NAME} is there already.",
            "Give another folder with --out.",
        )
    photos = folder / "photos"
    for path in render_photos(photos):
        yield f"{path.name} is there"
    with Ledger(folder / LEDGER_NAME) as ledger:
        rules = load_rules()
        season = plant(ledger, rules)
        waiting = waiting_photos(ledger, season, photos, rules)
        for looked in look_at_all(ledger, season, waiting, rules):
            yield f"{looked.path.name}: {looked.why or 'looked at'}"
        place_new(ledger, season, rules)
        work(ledger, season, rules)
    yield f"The season is in {folder / LEDGER_NAME}."


def plant(ledger: Ledger, rules: Rules) -> Season:
    """Enter garden, varieties, clumps with their cards, and boxes."""
    season = start_season(ledger, GARDEN, YEAR)
    for variety in VARIETIES:
        set_wish(ledger, season, variety.name, variety.wanted, variety.give_away)
    for clump in demo_clumps():
        values = {
            "variety": clump.variety,
            "bed": clump.bed,
            "light": LIGHTS[clump.number % 3],
            "lifted_on": LIFTED.isoformat(),
        }
        set_clumps(ledger, season, [str(clump.number)], values, rules)
    for name, litres in BOXES:
        set_box(ledger, season, name, litres)
    return season


def work(ledger: Ledger, season: Season, rules: Rules) -> None:
    """Answer, correct, cut, store, check and grow what was looked at."""
    clump_of = {name: clump.number for name, clump, _ in demo_photos()}
    for photo in ledger.rows(ClumpPhoto, "failed = '' AND code IS NULL"):
        # The grower knows what a photo shows whose card was not read.
        goal = find_clump(ledger, season, str(clump_of[Path(photo.path).stem]))
        move_photo(ledger, photo, goal, rules)
    _answer(ledger, rules)
    refresh(ledger, season, rules)
    cut = [str(clump.number) for clump in demo_clumps() if clump.number % 2]
    set_clumps(ledger, season, cut, {"cut_on": CUT.isoformat()}, rules)
    keep_plan(ledger, plan_boxes(ledger, season, rules, CUT + timedelta(days=2)))
    chance = np.random.default_rng(YEAR)
    drawn = chance.random(len(pieces := _pieces(ledger, season)))
    for result, low, high in (
        ("lost", 0.0, LOST),
        ("shrivelled", LOST, LOST + SHRIVELLED),
        ("sound", LOST + SHRIVELLED, 1.0),
    ):
        found = [p for p, d in zip(pieces, drawn, strict=True) if low <= d < high]
        note_check(ledger, found, result, CHECKED)
    kept = _pieces(ledger, season)
    shot = chance.random(len(kept)) < [piece.eye_chance for piece in kept]
    for outcome, grew in (("shot", True), ("blind", False)):
        grown = [p for p, s in zip(kept, shot, strict=True) if s == grew]
        note_growth(ledger, grown, outcome, GREW)


def _pieces(ledger: Ledger, season: Season) -> list[StoredPiece]:
    """Return the pieces by clump: the order in which photos are done is by chance."""
    return sorted(all_pieces(ledger, season), key=lambda p: (p.clump_id, p.letter))


def _answer(ledger: Ledger, rules: Rules) -> None:
    """Let the invented grower answer every other photo."""
    job = Job(rules)

    def say(review: Review) -> None:
        for flag in review.undecided:
            sure = flag.likelihood >= SURE
            review.say(flag.id, "confirmed" if sure else "rejected", GROWER)

    photos = sorted(photo.path for photo in ledger.rows(ClumpPhoto, "failed = ''"))
    for path in photos[1::2]:
        job.answer(Path(path), say)
