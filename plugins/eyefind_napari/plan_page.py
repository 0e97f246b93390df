"""The page with the plan: style, cuts and their ends, the sheet."""

from collections.abc import Callable
from typing import Final, cast

from qtpy.QtCore import QTimer, QUrl
from qtpy.QtGui import QDesktopServices
from qtpy.QtWidgets import QButtonGroup, QWidget

from eyefind.data import Style
from eyefind.desk.words import plan_words, waiting_words
from eyefind.plan.nudge import has_cut, stepped
from eyefind_napari.clicks import Clicks
from eyefind_napari.control import Control
from eyefind_napari.moves import move_end
from eyefind_napari.pane import NO_PATH
from eyefind_napari.parts import (
    Scrolled,
    button,
    column,
    grid,
    label,
    radios,
    write_keys,
)

STYLES: Final[dict[str, str]] = {
    "singles": "Single tubers",
    "stems": "One piece a stem",
    "least": "Fewest cuts",
    "whole": "Only clean it",
}
WAYS: Final = {
    "up": ("Up", -1.0, 0.0),
    "down": ("Down", 1.0, 0.0),
    "left": ("Left", 0.0, -1.0),
    "right": ("Right", 0.0, 1.0),
}
"""Text of the button, mm down and mm to the right."""
ENDS: Final = {0: "where the blade enters", -1: "where the blade leaves"}


class PlanPage(QWidget):
    """What the plan is, and what the grower changes of it.

    Parameters
    ----------
    control : Control
        What is shown.
    clicks : Clicks
        Pointer and clicks.
    """

    def __init__(self, control: Control, clicks: Clicks) -> None:
        super().__init__()
        self.control, self.clicks = control, clicks
        self.number, self.end = 1, 0
        self._judged = NO_PATH  # Of the cut that the verdict is on.
        self.summary = label("", "plan_summary", heading=True)
        self.cut = label("", "cut")
        self.verdict = label("", "verdict")
        self.warnings = label("", "warnings")
        self.group = QButtonGroup(self)
        self.styles = radios("style", STYLES)
        for style, radio in self.styles.items():
            radio.clicked.connect(self._chooser(style))
            self.group.addButton(radio)
        actions: dict[str, tuple[str, Callable[[], object]]] = {
            "save_sheet": ("Save the sheet", control.save_sheet),
            "cut_before": ("Cut before", lambda: self._choose(-1)),
            "cut_after": ("Cut after", lambda: self._choose(1)),
            "other_end": ("Its other end", self._turn),
            **{f"nudge_{w}": (t, self._nudger(*mm)) for w, (t, *mm) in WAYS.items()},
            "click_end": ("Click its new place", self.ask_end),
        }
        self.work = {n: self._by_key(do) for n, (_, do) in actions.items()}
        """What the keys of this page do (`eyefind.desk.keys`)."""
        self._texts = {name: text for name, (text, _) in actions.items()}
        self.keyed = {n: button(text, n, do) for n, (text, do) in actions.items()}
        chosen = [self.keyed[name] for name in ("cut_before", "cut_after")]
        ways = [self.keyed[f"nudge_{way}"] for way in WAYS]
        page = column(
            self.summary,
            *self.styles.values(),
            grid(
                [
                    button("A piece less", "piece_less", self._counter(-1)),
                    button("A piece more", "piece_more", self._counter(1)),
                ],
                2,
            ),
            self.keyed["save_sheet"],
            button("Show and print it", "print_sheet", self.print_sheet),
            label("Move a cut", "head_cut", heading=True),
            self.cut,
            self.verdict,
            grid(ways, 2),
            self.keyed["click_end"],
            self.keyed["other_end"],
            grid(chosen, 2),
            self.warnings,
        )
        self.setLayout(page.layout())
        control.plan_changed.connect(self.show_plan)
        control.clump_changed.connect(self.show_plan)
        control.settings_changed.connect(self.show_keys)
        self.show_keys()
        self.show_plan()

    def show_keys(self) -> None:
        """Write the keys on the buttons."""
        write_keys(self.keyed, self._texts, self.control.settings.keys)

    def show_plan(self) -> None:
        """Show the plan as it stands."""
        session, plan = self.control.session, self.control.plan
        if plan is None or not has_cut(plan, self._judged):
            self.verdict.setText("")
        if session is not None:
            self.styles[session.style].setChecked(True)
        if plan is None:
            left = session.left_to_plan if session else 0
            self.summary.setText(waiting_words(left) if left else "No plan yet.")
            self.warnings.setText("")
            self.cut.setText("")
            return
        self.summary.setText(plan_words(plan))
        self.warnings.setText("\n".join(f"\N{BULLET} {text}" for text in plan.warnings))
        if not plan.cuts:
            self.cut.setText("The plan has no cut.")
            return
        self.number = max(1, min(self.number, len(plan.cuts)))
        cut = plan.cuts[self.number - 1]
        self.cut.setText(
            f"Cut {cut.number} of {len(plan.cuts)}: {cut.purpose}, {cut.tool}. "
            f"You move its end {ENDS[self.end]}."
        )

    def nudge(self, down_mm: float, right_mm: float) -> None:
        """Move the chosen end of the chosen cut by so many mm."""
        plan, session = self.control.plan, self.control.session
        if plan is None or session is None or not plan.cuts:
            self.verdict.setText("There is no cut to move.")
            return
        place = plan.cuts[self.number - 1].path_px[self.end]
        scale = session.record.scale.px_per_mm
        self._move_to(stepped(place, down_mm, right_mm, scale))

    def ask_end(self) -> None:
        """Ask for a click on the new place of the chosen end."""
        self.clicks.ask(
            f"Cut {self.number}: click the new place {ENDS[self.end]}.",
            1,
            lambda at: self._move_to(at[0]),
        )

    def print_sheet(self) -> None:
        """Save the sheet and hand it to the system's own viewer, which prints it."""
        files = self.control.save_sheet()
        if files:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(files[0])))

    def _move_to(self, place: tuple[float, float]) -> None:
        broken = move_end(self.control, self.number, self.end, place)
        self._show_end(
            f"Not moved: {broken}." if broken else "Moved. It keeps all rules."
        )

    def _choose(self, by: int) -> None:
        self.number += by
        self._show_end()

    def _show_end(self, verdict: str = "") -> None:
        """Show the chosen cut, its end in the magnifier, and what came of a move."""
        self.show_plan()
        self.verdict.setText(verdict)
        plan = self.control.plan
        if plan is not None and plan.cuts:
            self._judged = path = plan.cuts[self.number - 1].path_px
            row, col = path[self.end]
            self.control.pointed.emit((float(row), float(col)), path)

    def _by_key(self, do: Callable[[], object]) -> Callable[[], None]:
        """Return what a key does: the page scrolls to what is said on the cut.

        Under the mouse nothing may move: the next click would hit another button.
        """

        def work() -> None:
            do()
            QTimer.singleShot(0, self._scroll_to_cut)  # Once the text is laid out.

        return work

    def _scroll_to_cut(self) -> None:
        area = self.parentWidget().parentWidget()
        if isinstance(area, Scrolled):
            for text in (self.cut, self.verdict):
                area.ensureWidgetVisible(text, 0, 0)

    def _nudger(self, down: float, right: float) -> Callable[[], None]:
        return lambda: self.nudge(down, right)

    def _counter(self, more: int) -> Callable[[], None]:
        return lambda: self.control.want_pieces(more)

    def _chooser(self, style: str) -> Callable[[], None]:
        return lambda: self.control.set_style(cast(Style, style))

    def _turn(self) -> None:
        self.end = -1 if self.end == 0 else 0
        self._show_end()
