"""The sheet for a phone: the picture, and below it the steps in large letters."""

from collections.abc import Iterator
from typing import Final

from PIL import Image, ImageDraw, ImageFont

from eyefind.data import Plan, Record
from eyefind.sheet import words
from eyefind.sheet.fonts import BOLD, REGULAR, picture_font
from eyefind.sheet.style import BLACK, WHITE

LINES: Final = 34
"""So many letters of usual width fill a line: readable on a phone held upright."""
LEADING: Final = 1.35

Line = tuple[str, str]
"""Typeface and text of one paragraph."""


def with_steps(picture: Image.Image, record: Record, plan: Plan) -> Image.Image:
    """Return `picture` with the steps, pieces and limits below it.

    Parameters
    ----------
    picture : PIL.Image.Image
        The annotated picture, stamped where it must be.
    record, plan : Record, Plan
        What is known of the clump, and its plan.

    Returns
    -------
    PIL.Image.Image
        RGB, as wide as `picture`.
    """
    size = picture.width / LINES * 1.6
    room = picture.width - 2 * size
    lines = [
        (face, line)
        for face, text in _told(record, plan)
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


def _told(record: Record, plan: Plan) -> Iterator[Line]:
    for cut in plan.cuts:
        yield BOLD, f"{cut.number}. {words.first_upper(cut.purpose)}: {cut.tool}."
        for text in (cut.hold, f"{cut.enter} {cut.stop}".strip()):
            if text:
                yield REGULAR, text
    for piece in plan.pieces:
        eyes = f"{words.eyes_words(piece)}, {words.chance_words(piece)}"
        yield BOLD, f"Piece {piece.letter}: {', '.join(piece.tubers)}; {eyes}"
    limits = "; ".join(words.limits(record, plan))
    yield REGULAR, words.sentence(limits)
    yield BOLD, words.ADVICE_ONLY


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
