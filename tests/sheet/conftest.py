"""The painted clump with its plans, and what a PDF says when read back."""

from dataclasses import dataclass, replace
from io import BytesIO

import numpy as np
import pytest
from pypdf import PdfReader
from records import painted_record, the_painted_clump

from eyefind.data import Photo, Plan, Record, Says
from eyefind.plan import make_plan
from eyefind.rules import Rules, load_rules

NAME = "Bed 3 Abendröte.jpg"


@dataclass(frozen=True)
class Line:
    """One run of text on a page, as the PDF places it."""

    page: int
    text: str
    left: float
    base: float
    size: float
    font: str


def lines_of(pdf: bytes) -> list[Line]:
    """Return all runs of text of a PDF with place and size in points."""
    lines: list[Line] = []
    for number, page in enumerate(PdfReader(BytesIO(pdf)).pages):

        def visit(text, cm, tm, font, size, number=number):  # type: ignore[no-untyped-def]
            place = np.array([[*tm[0:2], 0], [*tm[2:4], 0], [*tm[4:6], 1]]) @ np.array(
                [[*cm[0:2], 0], [*cm[2:4], 0], [*cm[4:6], 1]]
            )
            if text.strip():
                name = str(font["/BaseFont"]) if font else ""
                real = size * float(np.hypot(*place[1, :2]))
                lines.append(Line(number, text, place[2, 0], place[2, 1], real, name))

        page.extract_text(visitor_text=visit)
    return lines


def text_of(pdf: bytes) -> list[str]:
    """Return the text of each page, every gap a single space."""
    pages = PdfReader(BytesIO(pdf)).pages
    return [" ".join(page.extract_text().split()) for page in pages]


@pytest.fixture(scope="session")
def rules() -> Rules:
    return load_rules()


@pytest.fixture(scope="session")
def photo() -> Photo:
    return Photo(the_painted_clump().rgb, NAME, "0" * 64, "2025-11-02T10:15:00")


def planned(style: str, standing: dict[str, Says], rules: Rules) -> Record:
    record = painted_record(NAME)
    plan = make_plan(record.anatomy, record.flags, standing, record.scale, style, rules)
    return replace(record, plan=plan)


@pytest.fixture(scope="session")
def standing() -> dict[str, Says]:
    return {flag.id: "confirmed" for flag in painted_record().flags}


@pytest.fixture(scope="session")
def record(standing: dict[str, Says], rules: Rules) -> Record:
    """Reviewed, divided into single tubers."""
    return planned("singles", standing, rules)


@pytest.fixture(scope="session")
def open_record(rules: Rules) -> Record:
    """Nothing answered yet, to be kept whole."""
    return planned("whole", {}, rules)


@pytest.fixture
def plan(record: Record) -> Plan:
    assert record.plan is not None
    return record.plan
