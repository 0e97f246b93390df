"""The sheet for a phone: the picture, and below it the steps in large letters."""

from collections.abc import Iterable, Iterator
from typing import Final

from PIL import Image, ImageDraw, ImageFont

from eyefind.data import Plan, Record, Says
from eyefind.rules import Rules
from eyefind.sheet import step_words, words
from eyefind.sheet.cautions import first_cuts, texts_beside
from eyefind.sheet.flow import SIGN
from eyefind.sheet.fonts import BOLD, REGULAR, picture_font
from eyefind.sheet.style import BLACK, WHITE

LINES: Final = 34
"""So many letters of usual width fill a line: readable on a phone held upright."""
LEADING: Final = 1.35

Line = tuple[str, str]
"""Typeface and text of one paragraph."""


def with_words(picture: Image.Image, told: Iterable[Line]) -> Image.Image:
    """Return `picture` with words below it.

    Parameters
    ----------
    picture : PIL.Image.Image
        RGB.
    told : iterable of (str, str)
        Typeface and text of each paragraph.

    Returns
    -------
    PIL.Image.Image
        RGB, as wide as `picture`.
    """
    size = picture.width / LINES * 1.6
    room = picture.width - 2 * size
    lines = [
        (face, line)
        for face, text in told
        for line in _wrapped(text, picture_font(face, size), room)
    ]
    tall = round(size * LEADING * (len(lines) + 1))
    whole = Image.new("RGB", (picture.width, picture.height + tall), WHITE)
    whole.paste(picture, (0, 0))
    draw = ImageDraw.Draw(whole)
    for number, (face, line) in enumerate(lines):
        top = picture.height + size * (0.5 + LEADING * number)
        draw.text((size, top), line, BLACK, picture_font(face, size))
    return whole


def bench_told(record: Record, plan: Plan, standing: dict[str, Says]) -> Iterator[Line]:
    """Yield what the cutting needs: limits, steps, cautions, pieces.

    Parameters
    ----------
    record, plan : Record, Plan
        What is known of the clump, and its plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    """
    yield BOLD, "Before you cut" if plan.cuts else "No cuts in this plan"
    for text in words.limits(record, plan):
        yield REGULAR, text
    yield from _cautions(["start"] if plan.cuts else [])
    beginning = first_cuts(plan)
    for cut, before in zip(plan.cuts, [None, *plan.cuts], strict=False):
        yield BOLD, f"{cut.number}. {words.first_upper(cut.purpose)}: {cut.tool}."
        yield REGULAR, " ".join(step_words.way_words(cut, before, record))
        yield from _cautions(beginning[cut.number])
    for piece in plan.pieces:
        yield BOLD, f"Piece {piece.letter}: {', '.join(piece.tubers)}"
        yield REGULAR, words.sentence(words.eye_sentence(piece))
    named = step_words.discard_words(record, plan, standing)
    yield BOLD, "Not stored"
    yield REGULAR, words.sentence("; ".join(named) or "nothing is taken off")
    yield from _cautions([*["pieces"] * words.has_doubtful(plan), "discards"])
    if plan.cuts:
        yield BOLD, "Before the next clump"
        yield from _cautions(["next_clump"])
    yield BOLD, words.ADVICE_ONLY


def after_told(record: Record, plan: Plan, rules: Rules) -> Iterator[Line]:
    """Yield what to do with the pieces.

    Parameters
    ----------
    record, plan : Record, Plan
        What is known of the clump, and its plan.
    rules : Rules
        The rules of the trade in use.
    """
    yield BOLD, f"{words.clump_name(record.photo)}: after the cuts"
    if plan.cuts:
        yield REGULAR, step_words.drying_words(rules)
        yield from _cautions(["drying"])
    yield BOLD, "Write on every label"
    yield REGULAR, step_words.label_words(record)
    for piece in plan.pieces:
        yield BOLD, step_words.piece_label_words(piece)
        yield REGULAR, words.piece_words(piece, record.anatomy)
    yield from _cautions(["pieces"] * words.has_doubtful(plan))
    yield BOLD, words.ADVICE_ONLY


def _cautions(steps: list[str]) -> Iterator[Line]:
    for step in steps:
        for text in texts_beside(step):
            yield REGULAR, f"{SIGN} {text}"


def _wrapped(text: str, font: ImageFont.FreeTypeFont, room: float) -> list[str]:
    """Break a text into lines that are at most `room` px wide."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and font.getlength(longer) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines
