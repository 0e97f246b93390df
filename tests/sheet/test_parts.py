"""What the sheet is made of: the code, page one, close-ups, pieces apart, the phone."""

import re
import shutil
import subprocess
from dataclasses import replace

import cv2
import numpy as np
import pytest
from blank_pictures import blank_pictures
from PIL import Image
from plan.clumps import SCALE, make_flag, round_clump
from scipy import ndimage
from sheet_text import text_of

from eyefind.data import PhotoFacts, Record
from eyefind.plan import make_plan
from eyefind.sheet.apart import draw_apart
from eyefind.sheet.cautions import first_cuts, texts_beside
from eyefind.sheet.code import code_text
from eyefind.sheet.pages import make_sheet
from eyefind.sheet.phone import after_told, bench_told, with_words
from eyefind.sheet.picture import PX_PER_PT, draw_close_up, splits_of
from eyefind.sheet.step_words import way_words
from eyefind.sheet.words import clump_name, limits

NAME = "Bed 3 Abendröte.eyefind.json"
CLOSE_PT = 150.0


def sheet_of(record, standing, paper="A4"):
    return make_sheet(blank_pictures(), record, record.plan, standing, paper, NAME)


def close_ups_of(photo, record, standing):
    return [
        draw_close_up(photo, record, standing, [cut], CLOSE_PT).image
        for cut in splits_of(record.plan)
    ]


@pytest.mark.parametrize("dpi", [100, 200])
def test_the_code_is_read_from_the_printed_page(record, standing, tmp_path, dpi):
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm (poppler-utils) is not installed: page not drawn")
    path = tmp_path / "page.pdf"
    path.write_bytes(sheet_of(record, standing))
    draw = ["pdftoppm", "-r", str(dpi), "-gray", "-png", "-singlefile"]
    subprocess.run([*draw, str(path), str(tmp_path / "page")], check=True)
    page = cv2.imread(str(tmp_path / "page.png"), cv2.IMREAD_GRAYSCALE)
    said, corners, _ = cv2.QRCodeDetector().detectAndDecode(page)
    assert said == code_text(record.photo, NAME)
    assert said.startswith(NAME)
    assert record.photo.sha256[:12] in said
    # In the upper right corner, where a thumb holds no sheet.
    assert corners[..., 0].min() > page.shape[1] / 2
    assert corners[..., 1].max() < page.shape[0] / 3


def assert_tells_all(pdf, record, plan, standing):
    """The page holds what the issue's sentence lists, each caution with its step."""
    told = "".join(text_of(pdf)[0].replace("\N{NO-BREAK SPACE}", "").split())
    beginning = first_cuts(plan)
    for cut, before in zip(plan.cuts, [None, *plan.cuts], strict=False):
        way = "".join(" ".join(way_words(cut, before, record)).split())
        assert way[1:] in told
        # After the words of the step, before those of the next.
        behind = told[told.index(way[1:]) :]
        for step in beginning[cut.number]:
            for text in texts_beside(step):
                assert 0 <= behind.find("".join(text.split())) < 500
    for text in [*limits(record, plan), *texts_beside("start")]:
        assert "".join(text.split()) in told
    for step in ("discards", "next_clump"):
        for text in texts_beside(step):
            assert "".join(text.split()) in told
    for piece in plan.pieces:
        assert f"{piece.letter}{','.join(piece.tubers)}" in told
    for discard in plan.discards:
        assert "".join(discard.what.split())[1:] in told
    assert f"{clump_name(record.photo)}".replace(" ", "") in told


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("count", [1, 3, 6])
def test_one_page_holds_all_that_the_bench_needs(paper, count, record, plan, standing):
    few = replace(plan, cuts=plan.cuts[:count])
    some = replace(record, plan=few)
    pdf = sheet_of(some, standing, paper)
    assert len(text_of(pdf)) == 1
    assert_tells_all(pdf, some, few, standing)


def test_the_pages_of_large_clumps_are_one(rules):
    """Round clumps of three to twelve tubers with an eye and a flag each way."""
    rng = np.random.default_rng(7)
    cuts = []
    for number in range(3, 13):
        angles = (np.arange(number) + rng.uniform(-0.2, 0.2, number)) * 360 / number
        clump = round_clump([float(angle) for angle in angles])
        tubers = clump.anatomy.tubers
        flags = [
            *clump.flags[1:],
            make_flag("F1", "spent_parent", tubers[0]),
            make_flag("F2", "rat_tail", tubers[1], at=0.8),
        ]
        said = {flag.id: "confirmed" for flag in flags}
        plan = make_plan(clump.anatomy, flags, said, SCALE, "singles", rules)
        cuts.append(len(plan.cuts))
        facts = PhotoFacts("Bed 9.jpg", "ab" * 32, 1200, 1200)
        record = Record(facts, SCALE, [], clump.anatomy, flags, [], plan)
        for paper in ("A4", "Letter"):
            pdf = sheet_of(record, said, paper)
            if len(text_of(pdf)) == 1:
                assert_tells_all(pdf, record, plan, said)
            else:
                assert len(plan.cuts) > 8
                assert "Not on this page" in text_of(pdf)[0]
    assert max(cuts) >= 7


@pytest.mark.parametrize("count", [20, 40])
def test_what_finds_no_room_is_named_and_stands_on_page_two(
    count, record, plan, standing
):
    cuts = [
        replace(plan.cuts[-1 - k % 2], number=k + 1, hold=f"Hold it, way {k}.")
        for k in range(count)
    ]
    many = replace(record, plan=replace(plan, cuts=cuts))
    first, *more = (
        " ".join(page.split()) for page in text_of(sheet_of(many, standing))
    )
    moved = int(re.search(r"Not on this page: Steps (\d+) to", first).group(1)) - 1
    assert 3 < moved < count
    assert f"Steps {moved + 1} to {count}, with the cautions: see page 2" in first
    for cut in cuts:
        on_first, on_others = (cut.hold in first), (cut.hold in " ".join(more))
        assert on_first == (cut.number <= moved)
        assert on_others == (cut.number > moved)


def test_a_close_up_rings_the_eyes_beside_its_cut(photo, record, standing):
    """Without its eyes each close-up looks otherwise: so they are drawn there."""
    blind = {flag.id: "rejected" for flag in record.flags if flag.kind == "eye"}
    drawn = close_ups_of(photo, record, standing)
    bare = close_ups_of(photo, record, {**standing, **blind})
    for ringed, plain in zip(drawn, bare, strict=True):
        one, two = (np.asarray(image).astype(int) for image in (ringed, plain))
        if one.shape == two.shape:
            assert (np.abs(one - two).max(axis=2) > 60).sum() > 200


def test_the_pieces_lie_apart_and_none_is_missing(photo, record, plan):
    image = draw_apart(photo, record, 900, PX_PER_PT)
    drawn = np.asarray(image.convert("L")) < 250
    regions, count = ndimage.label(ndimage.binary_opening(drawn, iterations=2))
    sizes = ndimage.sum_labels(drawn, regions, range(1, count + 1))
    assert (sizes > 0.005 * drawn.size).sum() == len(plan.pieces)
    edge = np.concatenate([drawn[0], drawn[-1], drawn[:, 0], drawn[:, -1]])
    assert not edge.any()


def test_one_piece_alone_is_not_drawn_apart(photo, open_record):
    assert len(open_record.plan.pieces) == 1
    assert draw_apart(photo, open_record, 900, PX_PER_PT) is None


def test_the_phone_has_the_picture_on_top_and_every_step_below(record, plan, standing):
    picture = Image.new("RGB", (720, 500), "green")
    whole = with_words(picture, bench_told(record, plan, standing))
    assert whole.width == picture.width
    assert whole.crop((0, 0, *picture.size)).tobytes() == picture.tobytes()
    below = np.asarray(whole.crop((0, 500, *whole.size)).convert("L"))
    margin = 16
    # Nothing is cut off at a side, and the last line ends above the edge.
    assert (below[:, :margin] > 250).all()
    assert (below[:, -margin:] > 250).all()
    assert (below[-4:] > 250).all()
    fewer = replace(plan, cuts=plan.cuts[:-1])
    assert (
        with_words(picture, bench_told(record, fewer, standing)).height < whole.height
    )


def test_letters_on_the_phone_are_large(record, plan, standing):
    """On a phone held upright, some 70 mm wide, a line is 3 mm high or more."""
    width = 720
    whole = with_words(
        Image.new("RGB", (width, 10)), bench_told(record, plan, standing)
    )
    ink = (np.asarray(whole.convert("L"))[10:] < 100).any(axis=1)
    starts = np.flatnonzero(np.diff(ink.astype(int)) == 1)
    assert np.median(np.diff(starts)) / width * 70 >= 3.0


def test_the_phone_leaves_out_no_step_caution_or_limit(record, plan, standing, rules):
    lines = [*bench_told(record, plan, standing), *after_told(record, plan, rules)]
    said = " ".join(text for _, text in lines)
    for cut, before in zip(plan.cuts, [None, *plan.cuts], strict=False):
        for text in (cut.tool, *way_words(cut, before, record)):
            assert text in said
    begun = [step for steps in first_cuts(plan).values() for step in steps]
    for step in ("start", *begun, "drying", "next_clump", "discards"):
        assert all(text in said for text in texts_beside(step))
    assert all(limit in said for limit in limits(record, plan))
    assert all(discard.what in said for discard in plan.discards)
