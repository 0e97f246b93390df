"""Flags as COCO keypoints, so that any other tool can read them.

The format is that of Lin et al. 2014, "Microsoft COCO: Common Objects in Context",
with one category a kind and one keypoint, ``place``, a flag. COCO counts (x, y) from
the picture's upper left corner, so the middle of our pixel (0, 0) is (0.5, 0.5) there.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any, get_args

import msgspec

from eyefind.data import Flag, Kind, Record
from eyefind.record import read_record
from eyefind.review import flags_in_force, standing

SEEN = 2
"""COCO's mark of a keypoint that is labelled and visible."""
KINDS: tuple[Kind, ...] = get_args(Kind)


def coco_file(record_paths: Sequence[Path]) -> bytes:
    """Write the flags of records as one COCO file.

    Parameters
    ----------
    record_paths : sequence of Path
        The records.

    Returns
    -------
    bytes
        JSON. Besides COCO's own fields each annotation has ``score`` (the likelihood),
        ``flag`` (its id) and ``answer`` (the grower's word or null).

    Raises
    ------
    RecordError
        If a record cannot be read.
    """
    images: list[dict[str, Any]] = []
    annotations: list[dict[str, Any]] = []
    for number, path in enumerate(record_paths, 1):
        record = read_record(path)
        images.append(
            {
                "id": number,
                "file_name": record.photo.file,
                "width": record.photo.width_px,
                "height": record.photo.height_px,
                "sha256": record.photo.sha256,
            }
        )
        answers = standing(record.flags, record.decisions)
        for flag in flags_in_force(record.flags, record.decisions):
            fields = _annotation(flag, record)
            fields["answer"] = answers.get(flag.id)
            annotations.append(
                {"id": len(annotations) + 1, "image_id": number, **fields}
            )
    return msgspec.json.format(
        msgspec.json.encode(
            {
                "info": {"description": "flags found by eyefind"},
                "images": images,
                "annotations": annotations,
                "categories": [
                    {
                        "id": number,
                        "name": kind,
                        "supercategory": "flag",
                        "keypoints": ["place"],
                        "skeleton": [],
                    }
                    for number, kind in enumerate(KINDS, 1)
                ],
            }
        ),
        indent=1,
    )


def _annotation(flag: Flag, record: Record) -> dict[str, Any]:
    x, y = flag.col_px + 0.5, flag.row_px + 0.5
    side = flag.size_mm * record.scale.px_per_mm
    left, top, width, height = x - side / 2, y - side / 2, side, side
    segmentation: list[list[float]] = []
    if flag.outline_px is not None and len(flag.outline_px) > 2:
        outline = flag.outline_px[:, ::-1] + 0.5
        segmentation = [outline.round(2).ravel().tolist()]
        (left, top), (right, bottom) = outline.min(axis=0), outline.max(axis=0)
        width, height = right - left, bottom - top
    box = [round(float(value), 2) for value in (left, top, width, height)]
    return {
        "category_id": KINDS.index(flag.kind) + 1,
        "keypoints": [round(x, 2), round(y, 2), SEEN],
        "num_keypoints": 1,
        "bbox": box,
        "area": round(box[2] * box[3], 2),
        "segmentation": segmentation,
        "iscrowd": 0,
        "score": flag.likelihood,
        "flag": flag.id,
    }
