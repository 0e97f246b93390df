"""The annotated picture: every mark seen on any ground, no eye hidden."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageChops
from scipy import ndimage
from shapely import box

from eyefind.data import Cut, Photo
from eyefind.sheet.drawing import draw_flag_mark
from eyefind.sheet.frame import clump_frame, cuts_frame, ground
from eyefind.sheet.pen import Pen, closed
from eyefind.sheet.picture import (
    FINER,
    PX_PER_PT,
    WIDTH_PX,
    draw_close_up,
    draw_picture,
    shown_flags,
    splits_of,
)
from eyefind.sheet.style import BLACK, SHAPES, WHITE
from eyefind.sheet.write import stamped

CLOSE_PX = 600
CLOSE_PT = CLOSE_PX * FINER / PX_PER_PT
GOLDEN = Path(__file__).parent / "golden"
GROUNDS = {"black": (0, 0, 0), "white": (255, 255, 255), "skin": (150, 117, 84)}
MIDDLE = np.array([200.0, 200.0])
LINE = np.array([[80.0, 200.0], [320.0, 200.0]])
MARKS = {
    "piece outline": lambda pen: pen.stroke(closed(LINE), 1.3, WHITE, (BLACK,)),
    "cut": lambda pen: pen.cut(LINE),
    "arrow": lambda pen: pen.arrow(LINE[0], LINE[1]),
    "hatch": lambda pen: pen.hatch(box(50, 50, 350, 350)),
    "letter": lambda pen: pen.tile(MIDDLE, "A", 24, BLACK, WHITE),
    "number": lambda pen: pen.disc(MIDDLE, "12", 20),
    "name": lambda pen: pen.halo_text(MIDDLE, "T1", 14),
} | {
    f"{kind}, {state}": lambda pen, kind=kind, state=state: draw_flag_mark(
        pen, kind, MIDDLE, 8.0, state == "confirmed"
    )
    for kind in SHAPES
    for state in ("confirmed", "open")
}


def drawn(mark: str, colour: tuple[int, int, int]) -> np.ndarray:
    """Return the mark on a plain ground at its printed size."""
    pen = Pen(Image.new("RGB", (400, 400), colour), PX_PER_PT)
    MARKS[mark](pen)
    return np.asarray(pen.image.reduce(2)).astype(int)


@pytest.mark.parametrize("mark", MARKS)
def test_every_mark_has_a_black_and_a_white_outline(mark):
    pixels = drawn(mark, GROUNDS["skin"])
    dark, light = pixels.max(axis=2) < 30, pixels.min(axis=2) > 225
    # One follows the other within two outlines' width, all along the mark.
    near_light = ndimage.binary_dilation(light, iterations=8)
    assert dark.sum() > 100
    assert light.sum() > 100
    assert (dark & near_light).sum() > 100


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("on", ["black", "white"])
def test_every_mark_shows_on_the_ground_of_either_outline(mark, on):
    pixels = drawn(mark, GROUNDS[on])
    apart = np.abs(pixels - GROUNDS[on]).min(axis=2)
    assert (apart > 200).sum() > 100


@pytest.mark.parametrize("mark", MARKS)
def test_marks_in_grey_are_the_same_marks(mark):
    # Nothing of a mark may vanish where a printer drops colour.
    pixels = drawn(mark, GROUNDS["skin"])
    grey = pixels @ np.array([0.299, 0.587, 0.114])
    around = GROUNDS["skin"] @ np.array([0.299, 0.587, 0.114])
    changed = (pixels != GROUNDS["skin"]).any(axis=2)
    assert (np.abs(grey - around)[changed] > 20).mean() > 0.8


@pytest.mark.parametrize("kind", SHAPES)
def test_confirmed_is_one_line_and_open_is_dashes(kind):
    for state, least, most in (("confirmed", 1, 1), ("open", 4, 40)):
        marked = (drawn(f"{kind}, {state}", GROUNDS["skin"]) != GROUNDS["skin"]).any(2)
        assert least <= ndimage.label(marked)[1] <= most


def test_the_picture_has_the_printed_size_that_the_letters_are_made_for(
    photo, record, standing
):
    picture = draw_picture(photo, record, standing)
    assert picture.mode == "RGB"
    assert picture.width == WIDTH_PX
    assert 1.1 < picture.width / picture.height < 1.8


def test_the_same_input_gives_the_same_pixels(photo, record, standing):
    one, two = (draw_picture(photo, record, standing) for _ in range(2))
    assert one.tobytes() == two.tobytes()


def draw_splits(photo, record, standing):
    """Return the close-up of each cut that divides."""
    return [
        draw_close_up(photo, record, standing, [cut], CLOSE_PT).image
        for cut in splits_of(record.plan)
    ]


def pictures_and_frames(photo, record, standing):
    """Return the large picture and the close-ups, each with its frame."""
    flags = shown_flags(record, standing)
    eyes = [flag for flag in flags if flag.kind == "eye"]
    frames = [clump_frame(photo, record, flags, WIDTH_PX)] + [
        cuts_frame([cut], eyes, record.scale.px_per_mm, CLOSE_PX)
        for cut in splits_of(record.plan)
    ]
    pictures = [draw_picture(photo, record, standing)]
    return zip(pictures + draw_splits(photo, record, standing), frames, strict=True)


def eyes_left_free(photo, record, standing):
    """Return for each eye in each picture whether nothing is drawn over it."""
    free = []
    for drawn_, frame in pictures_and_frames(photo, record, standing):
        plain = ground(photo, frame, record.anatomy.clump_outline_px)
        same = (np.asarray(plain) == np.asarray(drawn_)).all(axis=2)
        rows, cols = np.ogrid[: plain.height, : plain.width]
        for flag in shown_flags(record, standing):
            col, row = frame.path(np.array([[flag.row_px, flag.col_px]]))[0]
            inside = 0 <= col < plain.width and 0 <= row < plain.height
            if flag.kind == "eye" and inside:
                radius = 0.8 * flag.size_mm / 2 * record.scale.px_per_mm * frame.zoom
                eye = (rows - row) ** 2 + (cols - col) ** 2 < radius**2
                assert eye.sum() > 50
                free.append(bool(same[eye].all()))
    return free


def test_no_mark_covers_an_eye(photo, record, standing):
    free = eyes_left_free(photo, record, standing)
    assert len(free) > len([flag for flag in record.flags if flag.kind == "eye"])
    assert all(free)


def test_no_outline_runs_across_an_eye(photo, record, standing):
    eye = next(flag for flag in record.flags if flag.kind == "eye")
    row, col = record.plan.pieces[0].outline_px[0]
    edge = replace(eye, id="E9", row_px=row, col_px=col)
    more = replace(record, flags=[*record.flags, edge])
    assert all(eyes_left_free(photo, more, {**standing, "E9": "confirmed"}))


@pytest.mark.parametrize("number", range(1, 7))
def test_no_arrow_covers_an_eye_ahead_of_its_cut(number, photo, record, standing):
    """An arrow likes best to prolong its cut: there an eye is put in its way."""
    cut = record.plan.cuts[number - 1]
    way = cut.path_px[0] - cut.path_px[1]
    place = cut.path_px[0] + 6.0 * record.scale.px_per_mm * way / np.hypot(*way)
    eye = next(flag for flag in record.flags if flag.kind == "eye")
    more = replace(eye, id="E9", row_px=place[0], col_px=place[1])
    plan = replace(record.plan, cuts=[cut], pieces=record.plan.pieces[:1])
    crowded = replace(record, plan=plan, flags=[*record.flags, more])
    assert all(eyes_left_free(photo, crowded, {**standing, "E9": "confirmed"}))


def test_a_rejected_flag_has_no_mark(photo, record, standing):
    without = replace(record, flags=[f for f in record.flags if f.id != "E2"])
    one = draw_picture(photo, record, {**standing, "E2": "rejected"})
    two = draw_picture(photo, without, standing)
    assert ImageChops.difference(one, two).getbbox() is None


def test_an_added_flag_that_was_taken_back_has_no_mark(record, standing):
    added = replace(record.flags[0], id="G1", origin="added")
    with_it = replace(record, flags=[*record.flags, added])
    assert added not in shown_flags(with_it, standing)
    assert added in shown_flags(with_it, {**standing, "G1": "confirmed"})


def test_not_sure_looks_as_open_as_no_answer(photo, open_record):
    one = draw_picture(photo, open_record, {"E1": "not_sure"})
    two = draw_picture(photo, open_record, {})
    assert one.tobytes() == two.tobytes()


def test_without_a_plan_the_flags_are_shown(photo, record):
    bare = replace(record, plan=None)
    one = draw_picture(photo, bare, {})
    two = draw_picture(photo, replace(bare, flags=[]), {})
    assert ImageChops.difference(one, two).getbbox() is not None


@pytest.mark.parametrize("shape", [(1, 1), (3, 4000), (900, 7)])
def test_odd_photos_are_drawn(shape, record, standing):
    photo = Photo(np.full((*shape, 3), 90, np.uint8), "odd.png", "0" * 64)
    assert draw_picture(photo, record, standing).width == WIDTH_PX


def test_damaged_outlines_are_drawn_as_far_as_they_go(photo, record, plan, standing):
    nothing = np.zeros((0, 2))
    bow_tie = np.array([[100.0, 100], [300, 300], [100, 300], [300, 100]])
    holes = np.array([[np.nan, 1.0], [300, 400], [400, 300], [500, np.inf], [310, 500]])
    cuts = [
        Cut(number, "cut", path, "knife", "why")
        for number, path in enumerate([nothing, holes[:1], bow_tie[:1], bow_tie, holes])
    ]
    pieces = [
        replace(piece, outline_px=outline)
        for piece, outline in zip(
            plan.pieces, [nothing, bow_tie, holes, bow_tie[:2]], strict=True
        )
    ]
    odd = replace(plan, cuts=cuts, pieces=pieces)
    anatomy = replace(record.anatomy, clump_outline_px=nothing)
    for shown in (anatomy, replace(record.anatomy, crown_outline_px=nothing)):
        picture = draw_picture(
            photo, replace(record, plan=odd, anatomy=shown), standing
        )
        assert picture.width == WIDTH_PX
        draw_splits(photo, replace(record, plan=odd, anatomy=shown), standing)


def test_the_stamp_stands_above_the_picture_and_hides_nothing(photo, open_record):
    picture = draw_picture(photo, open_record, {})
    shown = stamped(picture)
    top = shown.height - picture.height
    assert shown.crop((0, top, *shown.size)).tobytes() == picture.tobytes()
    band = np.asarray(shown.crop((0, 0, shown.width, top)).convert("L"))
    assert band.min() == 0
    assert band.max() == 255


@pytest.mark.parametrize("name", ["singles", "split", "open"])
def test_golden(name, photo, record, open_record, standing, request):
    """The look of the sheet; `--renew-golden` after a wanted change, then look."""
    picture = {
        "singles": lambda: draw_picture(photo, record, standing),
        "split": lambda: draw_splits(photo, record, standing)[0],
        "open": lambda: stamped(draw_picture(photo, open_record, {})),
    }[name]().reduce(3)
    path = GOLDEN / f"{name}.png"
    if request.config.getoption("--renew-golden"):
        path.parent.mkdir(exist_ok=True)
        picture.quantize(64).save(path, optimize=True)
        return
    golden = Image.open(path).convert("RGB")
    assert golden.size == picture.size
    apart = np.abs(np.asarray(picture).astype(int) - np.asarray(golden)).max(axis=2)
    # 64 colours cost up to 40 of 255 in places; a moved mark turns black to white.
    assert (apart > 90).mean() < 0.002
    assert apart.mean() < 6
