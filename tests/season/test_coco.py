"""Flags as COCO keypoints, read by COCO's own reader and held against its format.

The fields and their meaning: cocodataset.org, "Data format", 1 and 2 (object detection
and keypoint detection).
"""

import json

import numpy as np
import pytest
from pycocotools.coco import COCO

from eyefind.record import read_record
from eyefind.review import flags_in_force, standing
from eyefind.season.coco import KINDS, coco_file


@pytest.fixture
def records(demo_path):
    return sorted((demo_path.parent / "photos").glob("*/*.eyefind.json"))[:12]


@pytest.fixture
def coco(records, tmp_path):
    path = tmp_path / "flags.json"
    path.write_bytes(coco_file(records))
    return COCO(str(path))


def test_the_reader_finds_every_flag_of_every_photo(coco, records):
    for number, path in enumerate(records, 1):
        record = read_record(path)
        (image,) = coco.loadImgs([number])
        assert (image["width"], image["height"]) == (2400, 1800)
        assert image["file_name"] == record.photo.file
        flags = flags_in_force(record.flags, record.decisions)
        found = coco.loadAnns(coco.getAnnIds(imgIds=[number]))
        assert [one["flag"] for one in found] == [flag.id for flag in flags]
        words = standing(record.flags, record.decisions)
        for one, flag in zip(found, flags, strict=True):
            (category,) = coco.loadCats([one["category_id"]])
            assert category["name"] == flag.kind
            x, y, seen = one["keypoints"]
            # COCO: (x, y) from the corner of the picture; v=2 is labelled and visible.
            assert (x, y, seen) == pytest.approx(
                (flag.col_px + 0.5, flag.row_px + 0.5, 2), abs=0.006
            )
            assert (one["score"], one["answer"]) == (
                flag.likelihood,
                words.get(flag.id),
            )


def test_the_fields_are_those_of_the_format(coco):
    data = coco.dataset
    assert set(data) >= {"info", "images", "annotations", "categories"}
    ids = [one["id"] for one in data["annotations"]]
    assert len(ids) == len(set(ids)) > 20
    for one in data["annotations"]:
        assert set(one) >= {
            "id",
            "image_id",
            "category_id",
            "segmentation",
            "area",
            "bbox",
            "iscrowd",
            "keypoints",
            "num_keypoints",
        }
        left, top, width, height = one["bbox"]
        x, y, _ = one["keypoints"]
        assert left <= x <= left + width
        assert top <= y <= top + height
        assert width > 0 < height
    for category in data["categories"]:
        assert len(category["keypoints"]) == 1
        assert category["skeleton"] == []
    assert [category["name"] for category in data["categories"]] == list(KINDS)


def test_outlines_are_polygons_around_their_flag(coco):
    outlined = [one for one in coco.dataset["annotations"] if one["segmentation"]]
    assert outlined
    for one in outlined:
        rows, cols = np.nonzero(coco.annToMask(one))
        left, top, width, height = one["bbox"]
        (xy,) = one["segmentation"]
        ends = [min(xy[::2]), min(xy[1::2]), max(xy[::2]), max(xy[1::2])]
        box = [left, top, left + width, top + height]
        assert box == pytest.approx(ends, abs=0.11)  # written to a tenth of a pixel
        # Drawn, it stays in its box; a tip thinner than a pixel is not drawn.
        assert left - 1 <= cols.min() <= cols.max() <= left + width + 1
        assert top - 1 <= rows.min() <= rows.max() <= top + height + 1


def test_no_record_gives_a_sound_file():
    assert json.loads(coco_file([]))["images"] == []
