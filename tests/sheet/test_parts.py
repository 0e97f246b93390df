"""What the sheet is made of: the code, page one, close-ups, pieces apart, the phone."""

import shutil
import subprocess
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image
from scipy import ndimage
from sheet_text import text_of

from eyefind.sheet.apart import draw_apart
from eyefind.sheet.cautions import first_cuts, texts_beside
from eyefind.sheet.code import code_text
from eyefind.sheet.flow import set_up
from eyefind.sheet.front import Front, ways_to_fit
from eyefind.sheet.pages import make_pdf
from eyefind.sheet.phone import told, with_steps
from eyefind.sheet.picture import PX_PER_PT, Pictures, draw_splits, splits_of
from eyefind.sheet.words import limits

NAME = "Bed 3 Abendröte.eyefind.json"
BLANK = Image.new("RGB", (360, 257), "white")


@pytest.fixture(scope="module")
def close_ups(photo, record, standing):
    return draw_splits(photo, record, standing)


def page_one(record, standing, rules, paper="A4", close_ups=()):
    pictures = Pictures(BLANK, list(close_ups))
    return make_pdf(pictures, record, record.plan, standing, rules, paper, NAME)


@pytest.mark.parametrize("dpi", [100, 200])
def test_the_code_is_read_from_the_printed_page(record, standing, rules, tmp_path, dpi):
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm (poppler-utils) is not installed: page not drawn")
    path = tmp_path / "page.pdf"
    path.write_bytes(page_one(record, standing, rules))
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


def front_of(record, standing, close_ups, paper="A4"):
    set_up()
    width, height = {"A4": (533, 776), "Letter": (550, 725)}[paper]
    front = Front(record, record.plan, standing, NAME, width, height)
    return front.tell(Pictures(BLANK, list(close_ups)))


def test_page_one_holds_all_that_the_bench_needs(
    record, plan, standing, rules, close_ups
):
    """Six cuts, three of them splits: every step with its cautions on one page."""
    first = text_of(page_one(record, standing, rules, "A4", close_ups))[0]
    told = first.replace(" ", "").replace("\N{NO-BREAK SPACE}", "")
    for cut in plan.cuts:
        assert cut.tool in first
        for text in (cut.purpose, cut.hold, cut.enter, cut.stop):
            assert text[1:].replace(" ", "") in told
    steps = [step for begun in first_cuts(plan).values() for step in begun]
    for text in [text for step in ["start", *steps] for text in texts_beside(step)]:
        assert text.replace(" ", "") in told
    for limit in limits(record, plan):
        assert limit.replace(" ", "") in told
    assert "Photo taken 2025-11-02" in first


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_page_one_holds_pieces_and_discards_of_a_plan_with_few_splits(
    record, plan, standing, rules, paper, close_ups
):
    few = replace(plan, cuts=plan.cuts[:3])
    page = page_one(replace(record, plan=few), standing, rules, paper, close_ups[:1])
    told = text_of(page)[0].replace(" ", "")
    for piece in plan.pieces:
        assert f"{piece.letter}{','.join(piece.tubers)}1confirmedsure" in told
    for discard in plan.discards:
        assert discard.what.replace(" ", "") in told.replace("Topof", "topof")


@pytest.mark.parametrize(
    ("splits", "paper"), [(0, "Letter"), (1, "A4"), (3, "Letter"), (12, "A4")]
)
def test_what_page_one_leaves_to_page_two_has_its_order(
    splits, paper, record, plan, standing, rules
):
    """More cuts never bring back what fewer cuts moved; nothing told is lost."""
    order = list(ways_to_fit(40))
    former = 0
    for count in (1, 6, 11, 22):
        cuts = [
            replace(plan.cuts[-1 - k % 2], number=k + 1, hold=f"Hold it, way {k}.")
            for k in range(count)
        ]
        many = replace(record, plan=replace(plan, cuts=cuts))
        close = [BLANK] * splits
        _, moved = front_of(many, standing, close, paper)
        at = next(k for k, (_, way) in enumerate(order) if way == moved)
        assert at >= former
        former = at
    assert moved.pieces
    assert moved.steps > 0
    pages = text_of(page_one(many, standing, rules, paper, close))
    for cut in cuts:
        told = [page for page in pages if cut.hold in " ".join(page.split())]
        assert len(told) == 1
        late = cut.number > len(cuts) - moved.steps
        assert (told[0] == pages[0]) != late


def test_each_split_has_its_close_up(plan, close_ups):
    assert len(close_ups) == len(splits_of(plan)) == len(plan.pieces) - 1


def test_a_close_up_rings_the_eyes_beside_its_cut(photo, record, standing, close_ups):
    """Without its eyes each close-up looks otherwise: so they are drawn there."""
    blind = {flag.id: "rejected" for flag in record.flags if flag.kind == "eye"}
    bare = draw_splits(photo, record, {**standing, **blind})
    for ringed, plain in zip(close_ups, bare, strict=True):
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


def test_the_phone_has_the_picture_on_top_and_every_step_below(
    record, plan, standing, rules
):
    picture = Image.new("RGB", (720, 500), "green")
    whole = with_steps(picture, record, plan, standing, rules)
    assert whole.width == picture.width
    assert whole.crop((0, 0, *picture.size)).tobytes() == picture.tobytes()
    below = np.asarray(whole.crop((0, 500, *whole.size)).convert("L"))
    margin = 16
    # Nothing is cut off at a side, and the last line ends above the edge.
    assert (below[:, :margin] > 250).all()
    assert (below[:, -margin:] > 250).all()
    assert (below[-4:] > 250).all()
    fewer = replace(plan, cuts=plan.cuts[:-1])
    assert with_steps(picture, record, fewer, standing, rules).height < whole.height


def test_letters_on_the_phone_are_large(record, plan, standing, rules):
    """On a phone held upright, some 70 mm wide, a line is 3 mm high or more."""
    width = 720
    whole = with_steps(Image.new("RGB", (width, 10)), record, plan, standing, rules)
    ink = (np.asarray(whole.convert("L"))[10:] < 100).any(axis=1)
    starts = np.flatnonzero(np.diff(ink.astype(int)) == 1)
    assert np.median(np.diff(starts)) / width * 70 >= 3.0


def test_the_phone_leaves_out_no_step_caution_or_limit(record, plan, standing, rules):
    said = " ".join(text for _, text in told(record, plan, standing, rules))
    for cut in plan.cuts:
        for text in (cut.tool, cut.hold, cut.enter, cut.stop):
            assert text in said
    begun = [step for steps in first_cuts(plan).values() for step in steps]
    for step in ("start", *begun, "drying", "next_clump", "pieces", "discards"):
        assert all(text in said for text in texts_beside(step))
    assert all(limit in said for limit in limits(record, plan))
    assert all(discard.what in said for discard in plan.discards)
