"""Photo, plan and marks as layers of napari: views of the session, never its truth."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any
from weakref import proxy

import numpy as np
from napari.layers import Image, Layer, Points
from napari.utils.transforms import Affine
from napari.viewer import Viewer
from qtpy.QtCore import QObject, QTimer
from qtpy.QtGui import QGuiApplication

from eyefind.data import Pixels, Plan
from eyefind.desk.overlay import Overlay, draw_marks, letters_pt
from eyefind_napari.clicks import Clicks
from eyefind_napari.control import Control
from eyefind_napari.theme import TEXT_PT

PHOTO, PLAN, MARKS, FLAGS = "photo", "plan", "marks", "flags"
NOTHING: Overlay = np.zeros((2, 2, 4), np.uint8)
UNSEEN_PT = 0.3
"""Letters that would grow or shrink less are not drawn anew."""
MOVED_PX = 0.2
"""A point that moved less was not moved: the record keeps tenths of a pixel."""


def see(layer: Layer, seen: bool) -> None:
    """Show or hide a layer; to show one that is shown would cost napari some ms."""
    if layer.visible != seen:
        layer.visible = seen


class Marks(QObject):
    """Keeps four layers of ours in step with the session.

    The points of the layer ``flags`` may be worked on like any others of napari: one
    that is deleted means that its flag is rejected, one that is moved moves its flag,
    a new one is an eye. Other layers are left alone.

    Parameters
    ----------
    viewer : napari.viewer.Viewer
        The viewer.
    control : Control
        What is shown.
    clicks : Clicks
        Is told where the pointer is and what is clicked on.
    """

    def __init__(self, viewer: Viewer, control: Control, clicks: Clicks) -> None:
        super().__init__()
        # The viewer must be free to go when its window closes.
        self.viewer: Viewer = proxy(viewer)
        self.control, self.clicks = control, clicks
        self.hidden = False
        self._layers: dict[str, Image | Points] = {}
        self._busy = False
        self._marked_plan: Plan | None = None
        control.clump_changed.connect(self.show_clump)
        control.settled.connect(self.show_flags)
        control.plan_changed.connect(self.show_plan)
        control.settings_changed.connect(self.look_at_clump)
        viewer.mouse_move_callbacks.append(self._moved)
        viewer.mouse_drag_callbacks.append(self._pressed)

    def close(self) -> None:
        """Let the viewer go."""
        for callbacks, own in (
            (self.viewer.mouse_move_callbacks, self._moved),
            (self.viewer.mouse_drag_callbacks, self._pressed),
        ):
            if own in callbacks:
                callbacks.remove(own)

    def show_clump(self) -> None:
        """Show the photo of the clump; nothing while it is being read."""
        session = self.control.session
        if session is None:
            for layer in self._layers.values():
                layer.visible = False
            return
        rgb = session.ready.photo.rgb
        with self._own():
            photo = self._image(PHOTO, rgb)
            if photo.data is not rgb:
                photo.data = rgb
            for name in (PLAN, MARKS):
                # Those of the clump before go at once, ours follow.
                see(self._image(name), False)
            self._points()
            see(photo, True)
        self.look_at_clump()

    def show_flags(self) -> None:
        """Draw the marks anew and bring the points into step."""
        session, frame = self.control.session, self.control.frame
        if session is None or frame is None:
            return
        current = session.current
        with self._own():
            self._marked_plan = self.control.plan
            record = replace(session.record, plan=self._marked_plan)
            picture = draw_marks(
                frame, record, session.words, current.id if current else None
            )
            self._lay(self._image(MARKS), picture)
            self._fill_points()

    def show_plan(self) -> None:
        """Show the plan, or none."""
        if self.control.session is None:
            return
        picture = self.control.plan_picture
        with self._own():
            self._lay(self._image(PLAN), NOTHING if picture is None else picture)
        if self._marked_plan is not self.control.plan:
            self.show_flags()

    def set_hidden(self, hidden: bool) -> None:
        """Hide all marks, or show them again."""
        self.hidden = hidden
        with self._own():
            for name, layer in self._layers.items():
                if name != PHOTO and layer in self.viewer.layers:
                    see(layer, not hidden)

    def _image(self, name: str, data: Pixels = NOTHING) -> Image:
        """Return our image layer of this name; made again if somebody removed it."""
        layer = self._layers.get(name)
        if layer is None or layer not in self.viewer.layers:
            layer = self.viewer.add_image(data, name=name, rgb=True)
            self._layers[name] = layer
            layer.visible = name == PHOTO or not self.hidden
        return layer

    def _points(self) -> Points:
        layer = self._layers.get(FLAGS)
        if layer is None or layer not in self.viewer.layers:
            layer = self.viewer.add_points(
                np.empty((0, 2)),
                name=FLAGS,
                features={"id": [], "kind": [], "likelihood": []},
                face_color="transparent",
                border_color="transparent",
            )
            layer.events.data.connect(self._data_changed)
            self._layers[FLAGS] = layer
        return layer

    def _fill_points(self) -> None:
        session = self.control.session
        assert session is not None
        flags = [f for f in session.flags if session.words.get(f.id) != "rejected"]
        layer = self._points()
        places = np.array([[f.row_px, f.col_px] for f in flags]).reshape(-1, 2)
        known = self._ids(layer)
        if known == [f.id for f in flags] and np.array_equal(layer.data, places):
            return
        layer.selected_data = set()
        layer.data = places
        # Of type object: an empty column of no type takes no text later.
        layer.features = {
            "id": np.array([f.id for f in flags], object),
            "kind": np.array([f.kind for f in flags], object),
            "likelihood": np.array([f.likelihood for f in flags], float),
        }
        layer.feature_defaults = {"id": "", "kind": "eye", "likelihood": 0.5}
        layer.size = 8 * session.record.scale.px_per_mm

    def _lay(self, layer: Image, picture: Overlay) -> None:
        """Lay a picture of any fineness over the part of the photo that it covers."""
        frame = self.control.frame
        if frame is None:
            return
        if not np.array_equal(layer.data, picture):
            # To upload and draw the same again would cost some 40 ms.
            layer.data = picture
        size = np.array([frame.height_px, frame.width_px])
        step = size / picture.shape[:2]
        corner = np.array([frame.top_px, frame.left_px]) - 0.5 + step / 2
        place = Affine(scale=step, translate=corner)
        # To set it costs napari some 20 ms even when nothing changes.
        if not np.array_equal(layer.affine.affine_matrix, place.affine_matrix):
            layer.affine = place
        see(layer, not self.hidden)

    def look_at_clump(self) -> None:
        """Make the clump, and the room around it that marks need, fill the view."""
        frame = self.control.frame
        if self.control.session is not None and frame is not None:
            corner = np.array([frame.top_px, frame.left_px]) - 0.5
            size = np.array([frame.height_px, frame.width_px])
            camera = self.viewer.scene.camera
            camera.center = tuple(corner + size / 2)
            camera.zoom = float(np.min(np.array(self.viewer.canvas.size) / size))
            self._fit_letters()

    def _fit_letters(self) -> None:
        """Keep the names on the photo as large as the text beside it."""
        frame, percent = self.control.frame, self.control.settings.text_percent
        if self.control.session is None or frame is None:
            return
        px_per_pt = QGuiApplication.primaryScreen().logicalDotsPerInch() / 72
        letters_px = TEXT_PT * percent / 100 * px_per_pt
        least_pt = letters_pt(frame, self.viewer.scene.camera.zoom, letters_px)
        if abs(least_pt - self.control.least_pt) > UNSEEN_PT:
            self.control.least_pt = least_pt
            self.control.ask_plan()

    @contextmanager
    def _own(self) -> Iterator[None]:
        """Do our own changes without taking them for the grower's."""
        before, self._busy = self._busy, True
        active = self.viewer.layers.selection.active
        try:
            yield
        finally:
            if active is not None and active in self.viewer.layers:
                self.viewer.layers.selection.active = active
            self._busy = before

    @staticmethod
    def _ids(layer: Points) -> list[str]:
        return [str(name) for name in layer.features["id"]]

    def _data_changed(self, event: Any) -> None:
        """Take what was done to the points in napari itself as the grower's word."""
        if self._busy or event.action not in ("removed", "added", "changed"):
            return
        session, layer = self.control.session, self._points()
        if session is None:
            return
        flags = {flag.id: flag for flag in session.flags}
        ids = self._ids(layer)
        self._busy = True  # The layer is in the middle of its own change.
        try:
            if event.action == "removed":
                words = session.words
                gone = [n for n in flags if n not in ids and words.get(n) != "rejected"]
                if gone:
                    self.control.do(lambda session: session.reject(gone))
            for name, place in zip(ids, layer.data, strict=True):
                row, col = float(place[0]), float(place[1])
                flag = flags.get(name)
                if flag is None:
                    self._add(row, col)
                elif np.hypot(flag.row_px - row, flag.col_px - col) > MOVED_PX:
                    self._move(name, row, col)
        finally:
            self._busy = False
        QTimer.singleShot(0, self.show_flags)

    def _add(self, row: float, col: float) -> None:
        self.control.do(lambda session: session.add_eye(row, col))

    def _move(self, name: str, row: float, col: float) -> None:
        self.control.do(lambda session: session.move(row, col, name))

    def _moved(self, viewer: Viewer, event: Any) -> None:
        self.clicks.point((float(event.position[-2]), float(event.position[-1])))

    def _pressed(self, viewer: Viewer, event: Any) -> None:
        place = (float(event.position[-2]), float(event.position[-1]))
        self.clicks.point(place)
        if event.button == 1 and self.clicks.click(place):
            event.handled = True
