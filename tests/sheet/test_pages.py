"""The pages, read back from the PDF: complete, large enough, inside the paper."""

import re
from dataclasses import replace
from io import BytesIO
from typing import get_args

import pytest
from blank_pictures import blank_pictures
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.pdfbase import pdfmetrics
from sheet_text import lines_of, text_of

from eyefind.data import Discard, PhotoFacts, Remark
from eyefind.plan.words import NO_EYE, ONLY_A_STUB
from eyefind.sheet.fonts import BOLD, REGULAR
from eyefind.sheet.pages import Paper, make_after, make_sheet
from eyefind.sheet.style import FOOT_PT
from eyefind.sheet.words import STAMP, limits, reasons

SIZES_MM = {"A4": (210, 297), "Letter": (215.9, 279.4)}


NAME = "Bed 3 Abendröte.eyefind.json"


def sheet_of(record, standing, paper="A4", aspect=1.4):
    pictures = blank_pictures(aspect)
    return make_sheet(pictures, record, record.plan, standing, paper, NAME)


def after_of(record, rules, paper="A4"):
    pictures = blank_pictures(more=True)
    return make_after(pictures, record, record.plan, rules, paper)


def both_of(record, standing, rules, paper="A4"):
    return sheet_of(record, standing, paper), after_of(record, rules, paper)


def squeezed(text):
    """Return `text` without any space: lines break where they must."""
    return re.sub(r"\s", "", text)


def assert_inside(pdf):
    """Every run of text ends inside the paper, and above other pages' feet."""
    pages = PdfReader(BytesIO(pdf)).pages
    for line in lines_of(pdf):
        width, height = (float(side) for side in pages[line.page].mediabox[2:])
        face = BOLD if "Bold" in line.font else REGULAR
        # What the font lacks is drawn as its empty box, but read back as U+FFFD.
        drawn = line.text.rstrip().replace("\ufffd", "\U0010ffff")
        wide = pdfmetrics.stringWidth(drawn, face, line.size)
        assert line.left >= 0, line
        assert line.left + wide <= width - 20, line
        assert 20 <= line.base <= height - line.size, line


@pytest.mark.parametrize("paper", get_args(Paper))
def test_the_paper_has_its_size(paper, record, standing, rules):
    # ISO 216 A4; ANSI/ASME Y14.1 A (US Letter), in mm.
    for pdf in both_of(record, standing, rules, paper):
        (page,) = PdfReader(BytesIO(pdf)).pages
        size = [float(side) / 72 * 25.4 for side in page.mediabox[2:]]
        assert size == pytest.approx(SIZES_MM[paper], abs=0.1)


@pytest.mark.parametrize("paper", get_args(Paper))
def test_nothing_lies_outside_the_paper(paper, record, open_record, standing, rules):
    for pdf in both_of(record, standing, rules, paper):
        assert_inside(pdf)
    for pdf in both_of(open_record, {}, rules, paper):
        assert_inside(pdf)


def test_the_stamp_is_on_every_page_until_all_is_answered(
    record, open_record, standing, rules
):
    for pdf in both_of(open_record, {}, rules):
        assert all(STAMP in page for page in text_of(pdf))
    for pdf in both_of(record, standing, rules):
        assert not any(STAMP in page for page in text_of(pdf))


def test_the_stamp_goes_from_edge_to_edge(open_record, rules):
    content = PdfReader(BytesIO(sheet_of(open_record, {}))).pages[0].get_contents()
    assert content is not None
    left, _, width, _ = re.search(
        rb"([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+) re f", content.get_data()
    ).groups()
    assert float(left) == 0
    assert float(width) == pytest.approx(210 / 25.4 * 72, abs=0.1)


def test_every_page_names_clump_and_page_and_says_that_it_advises(
    record, standing, rules
):
    both = both_of(record, standing, rules)
    for pdf, what in zip(both, ("cut sheet", "after the cuts"), strict=True):
        (page,) = text_of(pdf)
        assert f"Bed 3 Abendröte, {what}, page 1 of 1." in page
        assert "only advises" in page


def test_all_of_the_record_is_told(record, plan, standing, rules):
    sheet, after = both_of(record, standing, rules)
    lines = [line.text.strip() for line in lines_of(sheet)]
    told = squeezed(" ".join(text_of(sheet) + text_of(after)))
    for cut in plan.cuts:
        assert str(cut.number) in lines
        assert squeezed(cut.purpose[1:]) in told
        assert squeezed(cut.tool[1:]) in told
        assert squeezed(cut.enter[1:]) in told
        for part in cut.why.split(": "):
            assert squeezed(part[1:]) in told
    for piece in plan.pieces:
        assert squeezed(f"{piece.letter} / eye seen:") in told
        for note in piece.note.split("; "):
            # The label says that of each piece.
            assert note == NO_EYE or squeezed(note[1:]) in told
    for discard in plan.discards:
        assert squeezed(discard.what[1:]) in told
        # The cut through the stem says the same.
        assert discard.why == ONLY_A_STUB or squeezed(discard.why[1:]) in told
    for remark in record.remarks:
        assert squeezed(remark.text) in told
        assert squeezed(remark.advice) in told
    for text in [*limits(record, plan), *reasons(plan)]:
        assert squeezed(text) in told


def test_cuts_come_in_their_order(record, plan, standing):
    told = " ".join(text_of(sheet_of(record, standing)))
    heads = [cut.purpose[1:] for cut in plan.cuts]
    place = 0
    for head in heads:
        place = told.index(head, place)


def test_like_cuts_in_a_row_are_told_once_but_for_their_places(
    record, plan, standing, rules
):
    tails = [
        replace(
            plan.cuts[0],
            number=number,
            purpose="trim a rat's tail",
            tool="fine-point snips",
            hold=f"Hold T{number} by its thick part on the block.",
            enter=f"Enter square across the far end of T{number}.",
            stop="Cut right through.",
            why=f"The thin end of T{number}: it fills the box.",
        )
        for number in range(1, 6)
    ]
    many = replace(record, plan=replace(plan, cuts=tails))
    sheet, after = both_of(many, standing, rules)
    lines = [line.text.strip() for line in lines_of(sheet)]
    told = " ".join(" ".join(text_of(sheet) + text_of(after)).split())
    assert told.count("Hold T") == told.count("Cut right through.") == 1
    for number in range(1, 6):
        assert str(number) in lines
        assert f"nter square across the far end of T{number}." in told
        assert f"The thin end of T{number}" in told
    assert told.count("it fills the box.") == 1


def test_no_letter_is_smaller_than_12_pt(record, open_record, standing, rules):
    done = both_of(record, standing, rules)
    for pdf in (*done, *both_of(open_record, {}, rules)):
        assert min(line.size for line in lines_of(pdf)) >= FOOT_PT - 0.01


@pytest.mark.parametrize("paper", get_args(Paper))
def test_with_few_cuts_all_at_the_bench_is_14_pt(paper, record, plan, standing):
    few = replace(record, plan=replace(plan, cuts=plan.cuts[:1]))
    lines = lines_of(sheet_of(few, standing, paper))
    told = [line for line in lines if line.page == 0 and line.size < 13.9]
    # The head, the key and the foot may be smaller.
    small = " ".join(line.text for line in told)
    assert plan.cuts[0].enter not in small
    assert "Before you cut" not in small
    assert "Not stored" not in small
    assert len(told) < 20


def test_the_typefaces_are_embedded(record, standing):
    seen = set()
    for page in PdfReader(BytesIO(sheet_of(record, standing))).pages:
        for font in page["/Resources"]["/Font"].values():
            if "/FontDescriptor" in font.get_object():
                descriptor = font.get_object()["/FontDescriptor"]
                assert "/FontFile2" in descriptor
                seen.add(descriptor["/FontName"].partition("+")[2])
    assert seen == {"DejaVuSans", "DejaVuSans-Bold"}


def test_no_text_is_set_in_another_typeface(record, standing, rules):
    both = both_of(record, standing, rules)
    fonts = {line.font for pdf in both for line in lines_of(pdf)}
    assert all("DejaVuSans" in font for font in fonts), fonts


def test_the_same_input_gives_the_same_bytes(record, standing, rules):
    assert both_of(record, standing, rules) == both_of(record, standing, rules)


def test_a_plan_without_cuts_asks_for_no_blade(record, plan, standing, rules):
    doubtful = replace(plan.pieces[0], confirmed_eyes=0)
    told = replace(plan, cuts=[], discards=[], pieces=[doubtful, *plan.pieces[1:]])
    calm = replace(record, plan=told)
    told = " ".join(p for pdf in both_of(calm, {}, rules) for p in text_of(pdf))
    assert "No cuts in this plan" in told
    assert "Nothing is taken off." in told
    assert '"No eye seen" is not "no eye"' in told
    for word in ("knife", "blade", "leach", "dust", "tetanus"):
        assert word not in told


PHASES = [Phase.generate]
words = st.text(st.characters(codec="utf-8"), max_size=60)
long_words = st.sampled_from(
    [
        "W" * 400,
        "Die Knolle ist weich. " * 60,
        "日本語の名前" * 30,
        "<b>&amp; </para> %s {x}",
        "a/b\\c\x00\x07\ud83d\n\t",
        "שלום العربية",
        "🌼" * 80,
        "🁲 is in the typeface",
        "",
    ]
)
texts = words | long_words


@settings(max_examples=15, deadline=None, phases=PHASES)
@given(data=st.data(), paper=st.sampled_from(get_args(Paper)))
def test_any_text_stays_on_the_paper(data, paper, record, plan, rules):
    draw = data.draw
    name = draw(texts)[:250]  # no file system has longer ones
    facts = PhotoFacts(f"{name}.jpg", "", 9, 9, draw(st.none() | texts))
    cuts = [
        replace(
            draw(st.sampled_from(plan.cuts)),
            number=number,
            purpose=draw(texts),
            why=draw(texts),
        )
        for number in range(1, draw(st.sampled_from([0, 1, 3, 6])) + 1)
    ]
    pieces = [
        replace(
            draw(st.sampled_from(plan.pieces)),
            letter="AB",
            note=draw(texts),
            tubers=[f"T{n}" for n in range(draw(st.sampled_from([0, 1, 300])))],
        )
        for _ in range(draw(st.integers(0, 3)))
    ]
    discards = [
        Discard(draw(texts), draw(texts), "T1", plan.discards[0].outline_px)
        for _ in range(draw(st.integers(0, 3)))
    ]
    odd = replace(
        record,
        photo=facts,
        remarks=[Remark("x", draw(texts), draw(texts))],
        plan=replace(
            plan,
            reviewed=draw(st.booleans()),
            cuts=cuts,
            pieces=pieces,
            discards=discards,
            warnings=[draw(texts) for _ in range(draw(st.integers(0, 4)))],
        ),
    )
    for pdf in both_of(odd, {}, rules, paper):
        assert_inside(pdf)
        pages = text_of(pdf)
        for number, page in enumerate(pages, 1):
            assert f"page {number} of {len(pages)}." in page
            assert odd.plan.reviewed or STAMP in page


def test_letters_past_the_basic_plane_leave_the_rest_readable(record, plan, rules):
    # PDF 32000-1, 9.10.3: a reader is told letters as UTF-16, two or four bytes each.
    odd = replace(
        record, plan=replace(plan, warnings=["🁲 " + "Sound tubers stay. " * 3])
    )
    sheet, _ = both_of(odd, {}, rules, "A4")
    assert "Sound tubers stay." in text_of(sheet)[0]
    assert "\ufffd" not in text_of(sheet)[0]
