"""The shipped network: its hash is checked, its answers lie where the photo's are."""

import json
from hashlib import sha256
from importlib.resources import files

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from painted import painted_clump

from eyefind.data import Scale
from eyefind.errors import PhotoError
from eyefind.look import find_clump, look_at, see_whole
from eyefind.model import Answers, ModelError, ask, facts, network
from eyefind.model.network import PARTS
from eyefind.rules import load_rules


@pytest.fixture
def damaged(monkeypatch: pytest.MonkeyPatch, tmp_path):
    """Give a folder in the place of the shipped one, and forget what was loaded."""

    def use(packed: bytes | None, told: dict | None) -> None:
        if packed is not None:
            (tmp_path / network.WEIGHTS).write_bytes(packed)
        if told is not None:
            (tmp_path / "network.json").write_text(json.dumps(told))
        monkeypatch.setattr(network, "files", lambda _: tmp_path)
        network.facts.cache_clear()
        network._network.cache_clear()

    yield use
    network.facts.cache_clear()
    network._network.cache_clear()


def shipped() -> bytes:
    return files("eyefind.model").joinpath(network.WEIGHTS).read_bytes()


def test_the_shipped_weights_are_small_and_those_that_were_noted():
    assert sha256(shipped()).hexdigest() == facts().sha256
    assert len(shipped()) < 15e6


@pytest.mark.parametrize("harm", ["missing", "cut short", "one bit", "no facts"])
def test_missing_or_damaged_weights_are_told(damaged, harm):
    whole = shipped()
    packed = {
        "missing": None,
        "cut short": whole[:-100],
        "one bit": bytes([whole[0] ^ 1]) + whole[1:],
        "no facts": whole,
    }[harm]
    told = {"sha256": sha256(whole).hexdigest(), "made_from": ""}
    damaged(packed, None if harm == "no facts" else told)
    with pytest.raises(ModelError):
        ask(np.zeros((64, 64, 3), np.uint8), np.zeros(2), 1.0)


def test_without_the_weights_the_classical_finder_goes_on_and_says_so(damaged):
    damaged(None, None)
    painted = painted_clump()
    rng = np.random.default_rng(0)
    rgb = np.clip(painted.rgb + rng.normal(0, 4, painted.rgb.shape), 0, 255)
    rgb = rgb.astype(np.uint8)
    seen = see_whole(rgb, None)
    assert seen is None
    photo = type("Photo", (), {"rgb": rgb})
    look = look_at(photo, painted.scale, None, load_rules(), seen=seen)
    assert [remark.code for remark in look.remarks].count("no_network") == 1
    assert look.anatomy.tubers


def test_answers_are_chances_at_a_quarter_of_the_size():
    rng = np.random.default_rng(1)
    rgb = rng.integers(0, 255, (70, 101, 3)).astype(np.uint8)
    answers = ask(rgb, np.array([5.0, 7.0]), 0.5)
    assert answers.eye.shape == (18, 26)
    assert answers.step == 0.125
    np.testing.assert_allclose(answers.parts.sum(axis=2), 1, atol=1e-5)
    for chance in (answers.eye, answers.neck):
        assert 0 <= chance.min() <= chance.max() <= 1
    assert (answers.eye_size > 0).all()


def test_a_padded_edge_changes_little():
    """The same picture, once grown by what is cut off again: answers agree."""
    rng = np.random.default_rng(2)
    rgb = cv2.GaussianBlur(
        rng.integers(0, 255, (128, 160, 3)).astype(np.uint8), (0, 0), 5
    )
    whole = ask(rgb, np.zeros(2), 1.0)
    part = ask(rgb[:100], np.zeros(2), 1.0)
    off = np.abs(whole.parts[:15] - part.parts[:15]).mean()
    assert off < 0.1


@given(
    st.floats(0.05, 1.0), st.floats(0.05, 1.0), st.floats(-50, 50), st.floats(-50, 50)
)
def test_answers_are_sampled_where_the_photo_says(step, other, down, right):
    """A plane that holds its own place in the photo keeps saying so on another grid."""
    corner = np.array([3.0, -4.0])
    rows, cols = np.mgrid[0:40, 0:50]
    places = np.stack([rows, cols], axis=2).reshape(-1, 2)
    blank = np.zeros((40, 50), np.float32)
    answers = Answers(corner, step, blank, blank, blank, blank, blank)
    here = answers.to_photo(places).reshape(40, 50, 2).astype(np.float32)
    np.testing.assert_allclose(
        answers.to_answers(answers.to_photo(places)), places, atol=1e-6
    )
    middle = answers.to_photo(np.array([[20.0, 25.0]]))[0]
    start = middle + np.array([down, right])
    out = answers.on(here, start, other, (6, 7))
    wanted = (np.stack(np.mgrid[0:6, 0:7], axis=2) + 0.5) / other - 0.5 + start
    inside = answers.to_answers(wanted.reshape(-1, 2)).reshape(6, 7, 2)
    known = ((inside >= 0) & (inside <= (39, 49))).all(axis=2)
    # OpenCV samples at 32nds of a px.
    assert np.abs(out - wanted)[known].max(initial=0) <= 1.1 / 32 / step + 1e-3


def test_a_blank_photo_is_refused_with_the_network_too():
    rgb = np.full((600, 800, 3), 120, np.uint8)
    with pytest.raises(PhotoError):
        find_clump(rgb, None, see_whole(rgb, None))


def test_the_scale_decides_the_size_shown_to_the_network():
    rgb = np.zeros((1200, 1600, 3), np.uint8)
    known = see_whole(rgb, 8.0)
    free = see_whole(rgb, None)
    assert known is not None
    assert free is not None
    assert known.eye.shape == (150, 200)
    assert free.eye.size == pytest.approx(1.2e6 / 16, rel=0.02)
    assert len(PARTS) == known.parts.shape[2]
    assert Scale(8.0, "card", 0.0).px_per_mm * known.step * 4 == pytest.approx(4.0)
