"""Opens a real window: pytest-xvfb brings the screen where there is none."""

import numpy as np
import pytest
from painted import painted_clump
from PIL import Image

from eyefind.data import PhotoFacts, Record
from eyefind.photo import read_photo
from eyefind.record import write_record

pytestmark = pytest.mark.gui


@pytest.fixture
def record_file(tmp_path):
    painted = painted_clump()
    photo_file = tmp_path / "bed 3, Abendröte.png"
    Image.fromarray(painted.rgb).save(photo_file)
    photo = read_photo(photo_file)
    facts = PhotoFacts(photo.file, photo.sha256, *photo.rgb.shape[:2])
    path = tmp_path / "bed 3, Abendröte.eyefind.json"
    write_record(Record(facts, painted.scale, [], painted.anatomy, painted.flags), path)
    return path, painted


def test_record_opens_as_photo_and_flags(make_napari_viewer, record_file):
    path, painted = record_file
    viewer = make_napari_viewer(show=True)
    image, flags = viewer.open(path, plugin="eyefind")
    assert np.array_equal(image.data, painted.rgb)
    places = [(flag.row_px, flag.col_px) for flag in painted.flags]
    assert np.allclose(flags.data, places, atol=0.1)
    assert list(flags.features["kind"]) == [flag.kind for flag in painted.flags]
    shot = viewer.screenshot(canvas_only=True, flash=False)
    assert shot[..., :3].std() > 10
