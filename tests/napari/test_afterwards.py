"""Work that waits until the window is painted."""

import pytest
from eyefind_napari.afterwards import Afterwards
from qtpy.QtWidgets import QWidget

pytestmark = pytest.mark.gui


class Painted(QWidget):
    """Writes down when it is painted."""

    def __init__(self, order):
        super().__init__()
        self.order = order

    def paintEvent(self, event):  # noqa: N802
        self.order.append("painted")


@pytest.fixture
def order():
    return []


@pytest.fixture
def shown(qtbot, order):
    widget = Painted(order)
    qtbot.addWidget(widget)
    with qtbot.waitExposed(widget):
        widget.show()
    qtbot.waitUntil(lambda: "painted" in order)
    qtbot.wait(50)
    order.clear()
    return widget


@pytest.mark.parametrize("asked_first", [True, False])
def test_what_was_changed_is_painted_before(qtbot, shown, order, asked_first):
    rest = Afterwards(lambda: order.append("followed"))
    if asked_first:
        rest.ask()
    shown.update()
    if not asked_first:
        rest.ask()
    qtbot.waitUntil(lambda: "followed" in order)
    assert order == ["painted", "followed"]


def test_nothing_is_done_before_the_events_are(qtbot, order):
    rest = Afterwards(lambda: order.append("followed"))
    assert not rest.due
    rest.ask()
    assert rest.due
    assert order == []
    qtbot.waitUntil(lambda: not rest.due)
    assert order == ["followed"]


def test_asked_again_before_it_is_done_it_is_done_once(qtbot, shown, order):
    rest = Afterwards(lambda: order.append("followed"))
    for _ in range(3):
        rest.ask()
        shown.update()
    qtbot.waitUntil(lambda: not rest.due)
    qtbot.wait(20)
    assert order == ["painted", "followed"]
    rest.ask()
    qtbot.waitUntil(lambda: not rest.due)
    assert order[-2:] == ["followed", "followed"]


def test_the_work_may_ask_again(qtbot, order):
    def work():
        order.append("followed")
        if len(order) < 3:
            rest.ask()

    rest = Afterwards(work)
    rest.ask()
    qtbot.waitUntil(lambda: not rest.due)
    assert len(order) == 3


def test_dropped_it_is_left_undone_until_asked_again(qtbot, order):
    rest = Afterwards(lambda: order.append("followed"))
    rest.ask()
    rest.drop()
    assert not rest.due
    qtbot.wait(20)
    assert order == []
    rest.ask()
    qtbot.waitUntil(lambda: not rest.due)
    assert order == ["followed"]


def test_dropped_with_its_owner_it_is_never_done(qtbot, order):
    rest = Afterwards(lambda: order.append("followed"))
    rest.ask()
    rest.deleteLater()
    del rest
    qtbot.wait(20)
    assert order == []
