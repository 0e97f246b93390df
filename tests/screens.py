"""Pictures of the window for the docs: ``python tests/screens.py [FOLDER [PHOTO]]``.

PHOTO is the main photo of a lamp set, with ``PHOTO-lamp2`` and on beside it; only the
picture of the lamp is taken then.

Needs a screen of 1920 x 1200 px; on a machine without one run it as
``xvfb-run -s "-screen 0 1920x1200x24" python tests/screens.py``.
"""

import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import napari
from eyefind_napari.panel import ReviewPanel
from eyefind_napari.season_page import season_dock
from eyefind_napari.start import open_review
from qtpy.QtCore import Qt
from qtpy.QtWidgets import QApplication

from eyefind.desk.settings import LEAST_TIMES
from eyefind.photo import further_frames
from eyefind.season.archive import unpack

ROOT = Path(__file__).parent.parent
SAMPLES = ("bed4-tallow-sparrow-2", "bed1-lantern-moth-2", "bed3-harrow-pink-1")
DEMO = ROOT / "tests" / "season" / "demo_season.zip"
SIZE_PX, SMALL_PX = (1920, 1160), (1366, 768)
WIDTH_PX, QUALITY = 1440, 82
PATIENCE_S = 120


def main() -> None:
    """Take all pictures."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures"
    with tempfile.TemporaryDirectory() as work:
        lamp_set = Path(sys.argv[2]) if len(sys.argv) > 2 else None
        photos = [ROOT / "sample_images" / f"{name}.jpg" for name in SAMPLES]
        if lamp_set is not None:
            photos = [lamp_set, *further_frames(lamp_set, ())]
        for photo in photos:
            shutil.copy(photo, work)
        viewer = napari.Viewer(title="eyefind", show_welcome_screen=False)
        viewer.window.resize(*SIZE_PX)
        panel = open_review(viewer, [], None, Path(work) / "settings" / "review.json")
        panel.control.open([Path(work)])
        screens = Screens(viewer, panel, folder)
        if lamp_set is None:
            screens.take_all()
            os.environ["EYEFIND_LEDGER"] = str(unpack(DEMO, Path(work) / "demo"))
            screens.take_season(viewer)
        else:
            screens.take_lamp()
        panel.stop()
        viewer.close()


class Screens:
    """The open window and the folder that its pictures go to."""

    def __init__(self, viewer: napari.Viewer, panel: ReviewPanel, folder: Path) -> None:
        self.window = viewer.window._qt_window
        self.panel, self.control, self.folder = panel, panel.control, folder

    def take_all(self) -> None:
        """Go through a clump and take a picture of each step."""
        self.wait_for(lambda: self.control.effect != "")
        self.take("window-answer")
        self.panel.show_page(1)
        self.take("window-put-right")
        self.panel.show_page(0)
        session = self.control.session
        while session is not None and session.open_flags:
            self.control.answer("confirmed")
            self.settle()
        self.wait_for(lambda: self.control.plan is not None)
        self.panel.show_page(2)
        self.panel.plan_page.work["cut_after"]()
        self.take("window-plan")
        self.panel.show_page(3)
        self.take("window-clumps")
        self.panel.show_page(4)
        self.take("window-looks")
        self.panel.show_page(0)
        self.control.next_clump()
        self.wait_for(lambda: self.control.effect != "")
        self.control.set_settings(scheme="light")
        self.take("window-light")
        self.control.set_settings(text_percent=200)
        self.take("window-light-200")
        self.control.set_settings(scheme="dark")
        self.take("window-dark-200")
        self.panel.show_page(2)
        self.take("window-plan-200")
        self.control.set_settings(text_percent=100)
        self.panel.show_page(0)
        self.window.resize(*SMALL_PX)
        self.take("window-small")
        self.control.set_settings(text_percent=200)
        self.take("window-small-200")

    def take_season(self, viewer: napari.Viewer) -> None:
        """Take the picture of the season's page, of the demo season."""
        self.control.set_settings(text_percent=100)
        self.window.resize(*SIZE_PX)
        page = season_dock(viewer)
        viewer.window.add_dock_widget(page, name="The season", area="right")
        self.settle()
        page.grab().save(str(self.folder / "season-page.png"))
        page.ledger.close()

    def take_lamp(self) -> None:
        """Take the picture of the relief by lamp."""
        lamp = self.panel.lamp
        self.wait_for(lambda: self.control.effect != "" and lamp.lit is not None)
        self.control.set_settings(times=LEAST_TIMES)
        self.panel.show_page(5)
        lamp.turn(1)
        self.take("window-lamp")

    def take(self, name: str) -> None:
        """Save what is on the screen."""
        self.settle()
        frame = self.window.frameGeometry()
        shot = QApplication.primaryScreen().grabWindow(0, *frame.getRect())
        shot.scaledToWidth(WIDTH_PX, Qt.TransformationMode.SmoothTransformation).save(
            str(self.folder / f"{name}.jpg"), quality=QUALITY
        )

    def settle(self) -> None:
        """Let the window draw."""
        self.wait_for(lambda: False, 1.0)

    def wait_for(
        self, done: Callable[[], bool], patience_s: float = PATIENCE_S
    ) -> None:
        """Let the window work until it is done, or patience ends."""
        end = time.monotonic() + patience_s
        while not done() and time.monotonic() < end:
            QApplication.processEvents()
            time.sleep(0.01)


if __name__ == "__main__":
    main()
