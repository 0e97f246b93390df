"""Which photos show one clump, and the grower's corrections."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eyefind.review import Review
from eyefind.season.batch import Looked, enter
from eyefind.season.binding import redo, refresh, undo
from eyefind.season.garden import find_clump, find_photo, set_clumps
from eyefind.season.grouping import Seen, group_photos
from eyefind.season.placing import move_photo, place_new
from eyefind.season.progress import take_again, waiting
from eyefind.season.readings import read_reading
from eyefind.season.tables import Clump, ClumpPhoto, StoredPiece
from eyefind.season.tags import read_tag

CAMERA_NAMES = ("IMG_0301", "IMG_0301 (1)", "PXL_20261107_0912", "DSCN12", "12", "_7")


def seen(name, second=None, code=None):
    minute, rest = divmod(second or 0, 60)
    at = None if second is None else f"2026-11-07T09:{minute:02d}:{rest:02d}"
    return Seen(f"/photos/{name}.jpg", at, code)


def names(photos, gap_s=90.0):
    return [
        (group.name, [photo.stem for photo, _ in group.photos])
        for group in group_photos(photos, gap_s)
    ]


def test_the_code_groups_wherever_photos_lie_in_time():
    photos = [
        seen("IMG_1", 0, "EYE-0001"),
        seen("IMG_2", 10, "EYE-0002"),
        seen("IMG_3", 3000, "EYE-0001"),
    ]
    assert names(photos) == [
        ("EYE-0001", ["IMG_1", "IMG_3"]),
        ("EYE-0002", ["IMG_2"]),
    ]


def test_without_a_code_time_groups_and_a_gap_parts():
    photos = [seen("IMG_1", 0, "EYE-0001"), seen("IMG_2", 80), seen("IMG_3", 171)]
    assert names(photos) == [("EYE-0001", ["IMG_1", "IMG_2"]), ("IMG_3", ["IMG_3"])]


def test_names_that_the_grower_gave_group_and_those_of_a_phone_do_not():
    photos = [
        seen(name)
        for name in ("bed 3", "bed 3 (2)", "bed 4", "moth-1", "moth-2", *CAMERA_NAMES)
    ]
    assert sorted(names(photos)) == sorted(
        [
            ("bed 3", ["bed 3 (2)", "bed 3"]),
            ("bed 4", ["bed 4"]),
            ("moth-1", ["moth-1"]),
            ("moth-2", ["moth-2"]),
            *((name, [name]) for name in CAMERA_NAMES),
        ]
    )


@given(
    st.lists(
        st.builds(
            seen,
            st.sampled_from(["IMG_1", "IMG_2", "IMG_3", "a", "a (2)", "b (3)"]),
            st.none() | st.integers(0, 400),
            st.none() | st.sampled_from(["EYE-0001", "EYE-0002"]),
        ),
        unique_by=lambda photo: photo.path,
    )
)
def test_every_photo_is_in_one_group_and_codes_never_mix(photos):
    groups = group_photos(photos, 90.0)
    placed = [photo for group in groups for photo, _ in group.photos]
    assert sorted(placed, key=repr) == sorted(photos, key=repr)
    for group in groups:
        assert len({photo.code for photo, _ in group.photos} - {None}) <= 1
    codes = [group.code for group in groups if group.code]
    assert len(codes) == len(set(codes))


@pytest.fixture
def photos(demo_path):
    return demo_path.parent / "photos"


def test_the_demo_photos_found_their_clumps(demo, demo_season):
    clump = find_clump(demo, demo_season, "2")
    rows = demo.rows(ClumpPhoto, "clump_id = ?", clump.id)
    assert [Path(row.path).stem for row in rows] == ["IMG_0302", "IMG_0303"]
    assert {row.placed_by for row in rows} == {"code"}
    by = [row.placed_by for row in demo.rows(ClumpPhoto)]
    assert (by.count("code"), by.count("grower")) == (40, 2)


def test_new_photos_go_to_the_clumps_of_their_cards(ledger, season, rules, photos):
    known = set_clumps(ledger, season, ["1"], {"bed": "4"}, rules)[0]
    for record in sorted(photos.glob("[123]/*.json")):
        enter(ledger, season, Looked(record, read_reading(record, rules)))
    gained = place_new(ledger, season, rules)
    assert [clump.name for clump in gained] == ["EYE-0001", "EYE-0002"]
    assert gained[0].id == known.id
    assert len(ledger.rows(ClumpPhoto, "clump_id = ?", gained[1].id)) == 2
    assert ledger.rows(StoredPiece, "clump_id = ?", known.id)
    assert place_new(ledger, season, rules) == []
    # What the grower typed stands in the record too.
    tag = read_tag(photos / "1" / "IMG_0301.eyefind.json")
    assert (tag.garden, tag.name, tag.bed) == ("Quillfold", "EYE-0001", "4")


def test_a_correction_stays_and_can_be_taken_back(demo, demo_season, rules):
    photo = find_photo(demo, demo_season, "IMG_0303")
    former = photo.clump_id
    moved = move_photo(demo, photo, None, rules)
    assert moved.name == "IMG_0303"
    assert demo.rows(StoredPiece, "clump_id = ?", moved.id)
    place_new(demo, demo_season, rules)
    assert find_photo(demo, demo_season, "IMG_0303").clump_id == moved.id
    undo(demo, rules)
    assert find_photo(demo, demo_season, "IMG_0303").clump_id == former
    assert demo.row(Clump, moved.id).binned_at is not None


def test_pieces_follow_what_is_taken_back_and_brought_back(demo, demo_season, rules):
    clump = find_clump(demo, demo_season, "4")
    before = demo.rows(StoredPiece, "clump_id = ?", clump.id)
    assert before
    move_photo(demo, find_photo(demo, demo_season, "IMG_0305"), None, rules)
    assert demo.rows(StoredPiece, "clump_id = ?", clump.id) == []
    undo(demo, rules)
    assert demo.rows(StoredPiece, "clump_id = ?", clump.id) == before
    redo(demo, rules)
    assert demo.rows(StoredPiece, "clump_id = ?", clump.id) == []


def test_records_follow_what_is_taken_back(demo, demo_season, photos, rules):
    record = photos / "1" / "IMG_0301.eyefind.json"
    set_clumps(demo, demo_season, ["1"], {"note": "late"}, rules)
    undo(demo, rules)
    assert read_tag(record).note == ""
    redo(demo, rules)
    assert read_tag(record).note == "late"


def test_a_clump_that_lost_its_only_photo_and_has_no_word_is_binned(
    demo, demo_season, rules
):
    photo = find_photo(demo, demo_season, "IMG_0303")
    lone = move_photo(demo, photo, None, rules)
    goal = find_clump(demo, demo_season, "2")
    photo = find_photo(demo, demo_season, "IMG_0303")
    move_photo(demo, photo, goal, rules)
    assert demo.row(Clump, lone.id).binned_at is not None


def test_an_answer_in_the_record_reaches_the_ledger(demo, demo_season, photos, rules):
    review = Review(photos / "1" / "IMG_0301.eyefind.json")
    waiting_flags = len(review.undecided)
    assert waiting_flags > 0
    review.say(review.undecided[0].id, "not_sure", "Ida")
    refresh(demo, demo_season, rules)
    photo = find_photo(demo, demo_season, "IMG_0301")
    assert photo.unanswered == waiting_flags - 1


def test_a_record_that_says_the_same_is_not_read_again(
    demo, demo_season, photos, rules, monkeypatch
):
    def fail(*_):
        raise AssertionError("read again")

    monkeypatch.setattr("eyefind.season.binding.read_reading", fail)
    record = photos / "1" / "IMG_0301.eyefind.json"
    record.write_bytes(record.read_bytes())
    refresh(demo, demo_season, rules)


def test_a_lost_record_is_told_and_a_clump_that_was_cut_keeps_its_pieces(
    demo, demo_season, photos, rules
):
    clump = find_clump(demo, demo_season, "3")
    assert clump.cut_on
    before = demo.rows(StoredPiece, "clump_id = ?", clump.id)
    (photos / "4" / "IMG_0304.eyefind.json").unlink()
    refresh(demo, demo_season, rules)
    assert demo.rows(StoredPiece, "clump_id = ?", clump.id) == before
    lost = [item for item in take_again(demo, demo_season) if "IMG_0304" in item.photo]
    assert "cannot be opened" in lost[0].why


@pytest.mark.parametrize(
    ("stem", "why"), [("IMG_0312", "blurred"), ("IMG_0325", "dark")]
)
def test_spoilt_photos_of_the_demo_are_to_be_taken_again(demo, demo_season, stem, why):
    (item,) = (i for i in take_again(demo, demo_season) if Path(i.photo).stem == stem)
    assert why in item.why


def test_the_queue_goes_by_bed_and_variety(demo, demo_season):
    found = waiting(demo, demo_season)
    assert len(found) == 40
    order = [(item.bed, item.variety, item.clump) for item in found]
    assert order == sorted(order)
    assert {item.state for item in found} == {
        "answer",
        "cut",
        "done",
        "photograph again",
    }
    done = [item for item in found if item.state == "done"]
    assert len(done) == 20
