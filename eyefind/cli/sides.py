"""``eyefind side``: which tuber is which on a photo of another side."""

import json
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path

import typer

from eyefind.data import Anatomy
from eyefind.errors import UsageError
from eyefind.job import Job
from eyefind.photo import read_photo
from eyefind.record import record_path, write_bytes
from eyefind.review import Review, sides_in_force
from eyefind.sheet.both import draw_both
from eyefind.sheet.words import SIDES
from eyefind.sides import Pairs, Suggestion, match, pair_words, read_pairs, suggest
from eyefind.words import counted

WISHES = ("style", "most_pieces", "room_l")
"""What was asked of a plan, to be asked of the next one."""


@dataclass(frozen=True)
class Wanted:
    """What the grower says.

    Attributes
    ----------
    yes : bool
        Take what is suggested.
    pairs : list of str
        ``"T1=T3"``: these pairs; with `yes` in place of what is suggested for them.
    none : bool
        It is no side of this clump.
    by : str
        Who says it.
    """

    yes: bool
    pairs: list[str]
    none: bool
    by: str

    def taken(self, found: Suggestion, main: Anatomy, side: Anatomy) -> Pairs | None:
        """Return the pairs that are to be kept; None if nothing was said."""
        if self.none and (self.yes or self.pairs):
            raise UsageError(
                "--none stands alone.", "Nothing was written. Give pairs or --none."
            )
        if self.none:
            return {}
        if not (self.yes or self.pairs):
            return None
        if not (found.pairs or self.pairs):
            raise UsageError(
                "No tuber of one photo is like one of the other.",
                "Nothing was written. Name the pairs: --match T1=T3",
            )
        if self.yes and not found.sure:
            # A guess is not an answer: two clumps may be alike only by chance.
            pairs = " ".join(f"--match {a}={b}" for a, b in found.pairs.items())
            raise UsageError(
                "Not sure which tuber is which, or whether it is one clump: another "
                "turn fits nearly as well.",
                "Nothing was written. Look at both photos (the same command without "
                f"--yes draws them), then name the pairs yourself: {pairs}, or --none.",
            )
        named = read_pairs(" ".join(self.pairs), main, side)
        spoken_for = set(named.values())
        rest = found.pairs if self.yes else {}
        return named | {
            ours: theirs
            for ours, theirs in rest.items()
            if ours not in named and theirs not in spoken_for
        }


def run_side(
    job: Job, main_photo: Path, side_photo: Path, wanted: Wanted, as_json: bool
) -> None:
    """Suggest which tuber is which, keep the grower's word, say what came of it.

    Parameters
    ----------
    job : Job
        The settings; photos without a record are looked at.
    main_photo, side_photo : Path
        The photo that is planned on, and that of another side.
    wanted : Wanted
        What the grower says.
    as_json : bool
        One JSON object in one line instead of words.

    Raises
    ------
    EyefindError
        If a photo or record cannot be used or what is said makes no sense.
    """
    reviews = []
    for photo in (main_photo, side_photo):
        path = record_path(photo, job.out)
        reviews.append(Review(path if path.exists() else job.look(photo).record_path))
    main, side = (review.in_force.anatomy for review in reviews)
    found = suggest(main, side)
    pairs = wanted.taken(found, main, side)
    record = reviews[0].record
    if pairs is not None:
        plan = record.plan
        record = match(reviews[0].path, reviews[1].path, pairs, wanted.by)
        if plan is not None:
            asked = {name: getattr(plan, name) for name in WISHES}
            replace(job, **asked).plan(main_photo)
    others = [other.file for other in sides_in_force(record.decisions)]
    if as_json:
        fields = {
            "main": str(main_photo),
            "side": str(side_photo),
            "suggested": found.pairs,
            "flipped": found.flipped,
            "sure": found.sure,
            "matched": pairs,
            "sides": others,
        }
        typer.echo(json.dumps(fields, ensure_ascii=False))
        return
    for line in _told(found, pairs, others, main_photo):
        typer.echo(line)
    if pairs is None:
        typer.echo(f"Look at both first: {_drawn(main_photo, side_photo, reviews)}")
    elif pairs:
        typer.echo(_to_answer(side_photo, reviews[1]))


def _drawn(main_photo: Path, side_photo: Path, reviews: list[Review]) -> Path:
    """Write both photos beside each other, their tubers named; return the file."""
    both = draw_both(
        [
            (read_photo(photo), review.in_force)
            for photo, review in zip((main_photo, side_photo), reviews, strict=True)
        ]
    )
    data = BytesIO()
    both.save(data, "PNG", compress_level=3)
    folder = reviews[0].path.parent
    path = folder / f"{main_photo.stem}-{side_photo.stem}{SIDES}.png"
    write_bytes(path, data.getvalue())
    return path


def _to_answer(side_photo: Path, review: Review) -> str:
    """Say how many flags of the other side still want an answer."""
    left = len(review.undecided)
    if not left:
        return f"Every flag of {side_photo.name} is answered."
    return (
        f"{counted(left, 'flag')} of {side_photo.name} without your answer: until you "
        f"answer them its eyes count by their likelihood (eyefind review {side_photo})."
    )


def _told(
    found: Suggestion, pairs: Pairs | None, others: list[str], main_photo: Path
) -> list[str]:
    how = "flipped over" if found.flipped else "turned"
    doubt = "" if found.sure else "; another turn fits nearly as well: look closely"
    lines = [f"Suggested: {pair_words(found.pairs) or 'no pair'} ({how}{doubt})"]
    if pairs is None:
        ask = (
            "Say --yes, or name"
            if found.sure
            else "Not sure, so --yes is not enough: name"
        )
        lines.append(f"No pair was kept. {ask} the pairs: --match T1=T3")
    else:
        lines.append(f"Kept: {pair_words(pairs) or 'not a side of this clump'}")
    if others:
        lines.append(f"Other sides of {main_photo.name}: {', '.join(others)}")
    return lines
