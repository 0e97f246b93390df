"""The grown clump is built as clumps are: painted shapes, no picture needed."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

pytest.importorskip("torch")

from eyefind.workshop.anatomy import WART_MM, Clump, Tube
from eyefind.workshop.grow import Wishes, grow
from eyefind.workshop.tubers import draw_habit, grow_tuber

SEEDS = st.integers(0, 2**31)


def grown(seed: int, wishes: Wishes | None = None) -> Clump:
    return grow(np.random.default_rng(seed), wishes)


def test_a_ray_leaves_a_ball_at_its_radius() -> None:
    ball = Clump(np.zeros((1, 3)), np.array([20.0]), [], [], "washed", np.ones(3), 0)
    place, normal = ball.exit_of(np.array([0.6, 0.0, 0.8]))
    np.testing.assert_allclose(place, [12.0, 0.0, 16.0])
    np.testing.assert_allclose(normal, [0.6, 0.0, 0.8])


def test_volume_of_a_cylinder() -> None:
    points = np.column_stack([np.linspace(0, 100, 51), np.zeros(51), np.zeros(51)])
    tube = Tube("tuber", "T1", points, np.full(51, 10.0))
    assert tube.volume_ml == pytest.approx(np.pi * 10**2 * 100 / 1000, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(SEEDS)
def test_width_profile_has_a_neck_then_a_body_then_an_end(seed: int) -> None:
    rng = np.random.default_rng(seed)
    tube = grow_tuber(rng, draw_habit(rng), np.zeros(3), np.array([1.0, 0, 0]))
    widest = int(np.argmax(tube.radius[tube.neck :])) + tube.neck
    assert 0 < tube.neck < tube.neck_end <= widest < tube.end
    assert tube.radius[tube.neck] == tube.radius[1 : widest + 1].min()
    assert tube.radius[tube.neck] < tube.radius[widest]
    assert tube.radius[-1] < 0.5 * tube.radius[widest]
    assert (tube.radius > 0).all()


@settings(max_examples=8, deadline=None)
@given(SEEDS)
def test_necks_lie_between_the_body_and_what_it_hangs_on(seed: int) -> None:
    clump = grown(seed)
    tubes = {tube.id: tube for tube in clump.tubes if tube.id}
    for tube in clump.tubes:
        if tube.kind not in ("tuber", "tuber_on_tuber", "spent_parent"):
            continue
        along = tube.along
        widest = int(np.argmax(tube.radius * (np.arange(len(along)) >= tube.neck)))
        assert 0 < along[tube.neck] < along[widest]
        if tube.attached_to == "crown":
            apart = np.linalg.norm(clump.ball_places - tube.points[0], axis=1)
            assert (apart < clump.ball_radii).any(), "a tuber must start in the crown"
        else:
            host = tubes[tube.attached_to]
            apart = np.linalg.norm(host.points - tube.points[0], axis=1)
            assert (apart <= host.radius + 1e-6).any(), "and a side tuber in its host"


@settings(max_examples=8, deadline=None)
@given(SEEDS)
def test_eyes_sit_on_the_crown_near_the_neck_they_belong_to(seed: int) -> None:
    """Eyes belong to stem nodes, so to the crown: Aoba et al. 1961."""
    clump = grown(seed, Wishes(eyes=True))
    tubes = {tube.id: tube for tube in clump.tubes if tube.id}
    eyes = [mark for mark in clump.marks if mark.kind == "eye"]
    assert eyes
    for eye in eyes:
        assert eye.on == "crown" or tubes[eye.on].attached_to == "crown"
        firm = clump.ball_radii > WART_MM
        apart = np.linalg.norm(clump.ball_places - eye.place, axis=1)
        assert (apart - clump.ball_radii)[firm].min() == pytest.approx(0, abs=1e-6)
        owner = tubes[eye.belongs_to]
        assert owner.kind != "tuber_on_tuber"
        foot = np.linalg.norm(owner.points[: owner.neck + 1] - eye.place, axis=1)
        assert foot.min() < 40.0
        assert 0.5 <= eye.radius <= 3.2


@settings(max_examples=8, deadline=None)
@given(SEEDS)
def test_no_two_eyes_touch(seed: int) -> None:
    eyes = [mark for mark in grown(seed).marks if mark.kind == "eye"]
    for number, one in enumerate(eyes):
        for other in eyes[:number]:
            gap = np.linalg.norm(one.place - other.place)
            assert gap > one.radius + other.radius


@pytest.mark.parametrize("seed", range(6))
def test_look_alikes_outnumber_eyes(seed: int) -> None:
    marks = grown(seed).marks
    eyes = sum(mark.kind == "eye" for mark in marks)
    assert len(marks) - eyes >= 3 * eyes


@pytest.mark.parametrize("seed", range(6))
def test_wishes_are_granted(seed: int) -> None:
    wishes = Wishes(9, 2, 2, 2, 3, broken=True, soft=True, eyes=True)
    clump = grown(seed, wishes)
    kinds = [tube.kind for tube in clump.tubes]
    assert kinds.count("tuber") == 7
    assert kinds.count("spent_parent") == 2
    assert kinds.count("tuber_on_tuber") == 2
    assert kinds.count("stem") == 2
    assert kinds.count("rat_tail") == 3
    assert sum(tube.broken for tube in clump.tubes) == 1
    assert 1 <= sum(mark.kind == "soft" for mark in clump.marks) <= 3


def test_no_eyes_if_none_are_wished() -> None:
    marks = grown(3, Wishes(eyes=False)).marks
    assert not [mark for mark in marks if mark.kind == "eye"]
