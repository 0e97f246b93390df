"""Training the network: crops keep to the truth, and OpenCV runs what is exported."""

# ruff: noqa: E402 - the extra "workshop" may be missing

from pathlib import Path

import cv2
import msgspec
import numpy as np
import pytest

torch = pytest.importorskip("torch")

from eyefind.model.network import OFFSET_MM, PARTS, STRIDE
from eyefind.workshop.learn.crops import Cropper
from eyefind.workshop.learn.keep import export, load_weights, save_weights
from eyefind.workshop.learn.loss import losses
from eyefind.workshop.learn.network import ANSWERS, Finder, split_answers
from eyefind.workshop.learn.pictures import read_pictures
from eyefind.workshop.learn.recolour import recolour
from eyefind.workshop.truth import TrueEye, TrueTuber, Truth

PX_PER_MM = 4.0
EYE_RC, NECK_RC = (180.0, 300.0), (200.0, 240.0)
SIZE = (400, 520)
"""A drawn picture: body number 1 is a grey block, the eye a white dot."""
BLOCK = np.s_[100:300, 60:200]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A set of one drawn picture with its truth."""
    folder = tmp_path_factory.mktemp("set")
    rgb = np.full((*SIZE, 3), 60, np.uint8)
    rgb[BLOCK] = 140
    cv2.circle(rgb, (round(EYE_RC[1]), round(EYE_RC[0])), 6, (255, 255, 255), -1)
    label = np.zeros(SIZE, np.uint16)
    label[BLOCK] = 100 * PARTS.index("body") + 1
    cv2.imwrite(str(folder / "a.jpg"), rgb, [cv2.IMWRITE_JPEG_QUALITY, 100])
    cv2.imwrite(str(folder / "a.truth.png"), label)
    (folder / "a.truth.json").write_bytes(msgspec.json.encode(_truth()))
    return folder


def _truth() -> Truth:
    eye = TrueEye("E1", *EYE_RC, 3.0, "T1", 1.0, "pale", 20.0, False)
    corners = [(100.0, 60.0), (100.0, 199.0), (299.0, 199.0), (299.0, 60.0)]
    tuber = TrueTuber(
        "T1", "tuber", "crown", corners, NECK_RC, 8.0, 50.0, 35.0, 30.0,
        neck_visible=True, broken_neck=False, soft=False,
    )  # fmt: skip
    return Truth(
        "eyefind-truth", 1, "a.jpg", 0, "drawn", *SIZE, SIZE, PX_PER_MM, False,
        "above", "frontal", "washed", "mat", corners, [], [eye], [tuber], [], [], [],
    )  # fmt: skip


def test_crops_carry_their_targets_with_them(folder: Path) -> None:
    """The eye is where the crop is white, the body where it is grey."""
    batch = Cropper(read_pictures([folder], "cpu"), 320, seed=1).batch(24)
    small = torch.nn.functional.avg_pool2d(batch.rgb.mean(dim=1), STRIDE)
    eyes = 0
    for index in range(24):
        for row, col in (batch.eye[index] > 0.999).nonzero().tolist():
            if 2 < row < 77 and 2 < col < 77:
                eyes += 1
                near = small[index, row - 1 : row + 2, col - 1 : col + 2]
                assert near.max() > 0.6, "white where the eye is"
    assert eyes >= 8
    inner = torch.nn.functional.max_pool2d(
        (batch.part != PARTS.index("body")).float()[:, None], 5, 1, 2
    )[:, 0]
    grey = small[(inner == 0) & (batch.eye < 0.01)]
    assert len(grey) > 1000
    assert (grey - 140 / 255).abs().median() < 0.02


def test_offsets_meet_in_the_middle_of_the_tuber(folder: Path) -> None:
    """A pixel and its offset give one place, whatever the turn and the scale."""
    cropper = Cropper(read_pictures([folder], "cpu"), 320, seed=2)
    batch = cropper.batch(12)
    line = torch.arange(batch.part.shape[-1]).float()
    here = torch.stack(torch.meshgrid(line, line, indexing="ij"))
    met = 0
    for offset, own in zip(batch.offset, batch.on_tuber, strict=True):
        if own.sum() < 200:
            continue
        # Offsets are in one unit, so places meet at one factor only: that of the scale.
        rows = torch.stack([offset[0][own], torch.ones(int(own.sum()))], dim=1)
        fit = torch.linalg.lstsq(rows, -here[0][own][:, None])
        left = rows @ fit.solution + here[0][own][:, None]
        assert left.abs().max() < 0.2
        factor_px = float(fit.solution[0]) * STRIDE / OFFSET_MM
        assert 2.0 * 0.99 < factor_px < 9.5 * 1.01
        met += 1
    assert met >= 3


def test_recolouring_moves_nothing_and_stays_in_range(folder: Path) -> None:
    torch.manual_seed(0)
    batch = Cropper(read_pictures([folder], "cpu"), 320, seed=3).batch(4)
    pixels = recolour(batch)
    assert pixels.shape == batch.rgb.shape
    assert 0 <= float(pixels.min()) <= float(pixels.max()) <= 1


def test_a_step_against_the_gradient_makes_the_loss_smaller(folder: Path) -> None:
    torch.manual_seed(0)
    batch = Cropper(read_pictures([folder], "cpu"), 128, seed=4).batch(4)
    net = Finder()
    optimiser = torch.optim.SGD(net.parameters(), 1e-3)
    sums = []
    for _ in range(4):
        loss = torch.stack(
            list(
                losses(net(torch.cat([batch.rgb, batch.relief], dim=1)), batch).values()
            )
        ).sum()
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
        sums.append(float(loss))
    assert sums[-1] < sums[0]


@pytest.mark.filterwarnings("ignore:You are using the legacy:DeprecationWarning")
def test_opencv_answers_as_torch_does(tmp_path: Path) -> None:
    """Reference: torch's own forward pass; for two sizes, from one file."""
    torch.manual_seed(0)
    net = Finder().eval()
    save_weights(net, tmp_path / "w.npz")
    again = Finder().eval()
    load_weights(again, tmp_path / "w.npz")
    export(again, tmp_path / "w.onnx")
    run = cv2.dnn.readNetFromONNX(str(tmp_path / "w.onnx"))
    for height, width in ((64, 96), (128, 64)):
        pixels = torch.rand(1, 5, height, width)
        with torch.no_grad():
            expected = net(pixels)
        assert expected.shape == (1, 14, height // STRIDE, width // STRIDE)
        run.setInput(pixels.numpy())
        # The shipped numbers are rounded to 10 bits.
        assert np.allclose(run.forward(), expected.numpy(), atol=0.02)
    assert list(split_answers(expected)) == list(ANSWERS)


def test_weights_of_colours_alone_answer_as_before(tmp_path: Path) -> None:
    """Padded with zeros, whatever the new channels say changes nothing."""
    torch.manual_seed(0)
    net = Finder().eval()
    save_weights(net, tmp_path / "w.npz")
    with np.load(tmp_path / "w.npz") as file:
        arrays = dict(file)
    arrays["stem.0.weight"] = arrays["stem.0.weight"][:, :3]
    np.savez(tmp_path / "three.npz", **arrays)
    load_weights(net, tmp_path / "three.npz")
    inputs = torch.rand(1, 5, 64, 64)
    blind = inputs.clone()
    blind[:, 3:] = 0
    with torch.no_grad():
        assert torch.allclose(net(inputs), net(blind), atol=1e-4)
        assert not torch.allclose(net(inputs), net(inputs.flip(1)), atol=1e-3)


def test_crops_carry_the_relief_or_leave_it_out(folder: Path) -> None:
    """A relief on the body lies on the body in the crop too, in half of the crops."""
    relief = np.zeros(SIZE, np.uint8)
    relief[BLOCK] = 200
    cv2.imwrite(str(folder / "a.relief.png"), relief)
    batch = Cropper(read_pictures([folder], "cpu"), 160, seed=5).batch(80)
    (folder / "a.relief.png").unlink()
    small = batch.relief[:, :, STRIDE // 2 :: STRIDE, STRIDE // 2 :: STRIDE]
    body = batch.part == PARTS.index("body")
    shows = body.flatten(1).sum(dim=1) > 100
    told = batch.relief[:, 1].flatten(1).any(dim=1)
    assert shows.sum() >= 20
    assert 0.25 < told[shows].float().mean() < 0.75
    kept = shows & told
    agree = (small[kept, 1] > 0) == body[kept]
    assert agree.float().mean() > 0.97
    assert (small[:, 0][small[:, 1] > 0] - 200 / 255).abs().max() < 1e-5
