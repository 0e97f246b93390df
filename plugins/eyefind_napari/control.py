"""What the window does: it ties the desk's logic to Qt's signals."""

from collections.abc import Callable, Iterable
from concurrent.futures import CancelledError, Future
from dataclasses import replace
from pathlib import Path
from typing import Any

from qtpy.QtCore import Qt, Signal

from eyefind.data import Plan, Style
from eyefind.desk.ahead import Ahead
from eyefind.desk.lamp import LampFrames
from eyefind.desk.overlay import Overlay, draw_plan, overlay_frame
from eyefind.desk.planning import Planned, plan_and_draw
from eyefind.desk.queue import Entry, find_clumps, folder_of_records
from eyefind.desk.session import Answer, Session
from eyefind.desk.settings import (
    Settings,
    check,
    read_settings,
    settings_path,
    write_settings,
)
from eyefind.desk.words import accepted_words
from eyefind.desk.worker import Worker
from eyefind.job import Job, TwoPoints, TypedWidth
from eyefind.rules import load_rules
from eyefind.sheet.frame import Frame
from eyefind.sides import read_far
from eyefind_napari.afterwards import Afterwards
from eyefind_napari.telling import Telling


class Control(Telling):
    """Holds the queue, the clump that is shown, its plan and the settings.

    Every method that the grower can reach says through `said` what went wrong.
    """

    clump_changed = Signal()
    flag_changed = Signal()
    """Another flag or word is to be shown, at once: only page and magnifier listen."""
    settled = Signal()
    """The flag is on the screen: marks and what else nobody waits for may follow."""
    rested = Signal()
    """All of it is on the screen and nobody waits: time to make ready and tidy up."""
    plan_changed = Signal()
    pointed = Signal(object, object)
    """What the magnifier is to show: a place, (row, col) px, and a cut's path to it."""
    queue_changed = Signal()
    settings_changed = Signal()
    _told = Signal(object)
    _planned = Signal(object)

    def __init__(self, settings_file: Path | None = None) -> None:
        super().__init__()
        self.settings_file = settings_file or settings_path()
        self.settings, self.complaint = read_settings(self.settings_file)
        self.job = Job(load_rules())
        self.out: Path | None = None
        self.entries: list[Entry] = []
        self.index = -1
        self.session: Session | None = None
        self.frame: Frame | None = None
        self.plan: Plan | None = None
        self.made: Plan | None = None
        """The plan as made, before the grower moved a cut."""
        self.plan_picture: Overlay | None = None
        self.effect = ""
        self.least_pt = 0.0  # Of letters on the photo: `Marks` follows the screen.
        self._ahead: Ahead | None = None
        self._planner = Worker("eyefind-plan")
        self._asked: Future[Planned] | None = None
        self._rest = Afterwards(self._follow)
        self._pause = Afterwards(self.rested.emit)
        # The other threads only emit; the work is done here, in the window's thread.
        self._told.connect(self._take_told, Qt.ConnectionType.QueuedConnection)
        self._planned.connect(self._take_plan, Qt.ConnectionType.QueuedConnection)

    def open(self, paths: Iterable[Path], out: Path | None = None) -> None:
        """Open photos, folders or records as the queue and show the first open clump.

        Parameters
        ----------
        paths : iterable of Path
            What to open.
        out : Path, optional
            Folder of the records, now and for what is opened later.
        """
        with self.telling():
            paths = list(paths)
            self.out = out or self.out
            out = self.out or folder_of_records(paths)
            self.job = replace(self.job, out=out)
            entries = find_clumps(paths, out)
            if self._ahead is not None:
                self._ahead.close()
            self.entries, self.index, self.session = entries, -1, None
            self._ahead = Ahead(entries, self.job, self._told.emit)
            waits = ("waiting", "open", "bare")
            first = [n for n, e in enumerate(entries) if e.state in waits]
            self.go_to_clump(first[0] if first else 0)

    def go_to_clump(self, index: int) -> None:
        """Show the clump of this index, at once if it is ready, else when it is."""
        if self._ahead is None or not 0 <= index < len(self.entries):
            self.said.emit("There is no further clump.")
            return
        self.index = index
        self.session = None
        self._ahead.go_to(index)
        self._show()
        if self.session is None:
            name = self.entries[index].photo_path.stem
            self.said.emit(self.entries[index].message or f"{name} is being read ...")
            self.clump_changed.emit()

    def next_clump(self) -> None:
        """Show the next clump that is not done, or say that there is none."""
        ahead = range(self.index + 1, len(self.entries))
        undone = [n for n in ahead if self.entries[n].state != "done"]
        self.go_to_clump(undone[0] if undone else self.index + 1)

    def previous_clump(self) -> None:
        """Show the clump before."""
        self.go_to_clump(self.index - 1)

    def cancel(self) -> None:
        """Stop reading ahead."""
        if self._ahead is not None:
            self._ahead.cancel()
            self.queue_changed.emit()

    def go_on(self) -> None:
        """Go on reading ahead."""
        if self._ahead is not None and self.index >= 0:
            self._ahead.go_to(self.index)
            self.queue_changed.emit()

    @property
    def looked_at(self) -> int:
        """How many clumps need no look any more."""
        return 0 if self._ahead is None else self._ahead.looked_at

    @property
    def lamp_frames(self) -> Future[LampFrames | None] | None:
        """The lamp set of the shown clump, read or on its way; None without one."""
        return None if self._ahead is None else self._ahead.lit(self.index)

    @property
    def following(self) -> bool:
        """Whether marks, plan and queue still lag behind the flag that is shown."""
        return self._rest.due

    def set_scale(self, ruler: TwoPoints | TypedWidth) -> None:
        """Look at the shown photo again with a scale that the grower gives."""
        if self._ahead is not None and self.session is not None:
            self.session = None
            self.said.emit("The photo is looked at again with your scale ...")
            self._ahead.look_again(self.index, ruler)
            self.clump_changed.emit()

    def do(self, work: Callable[[Session], Any]) -> bool:
        """Do something to the session, then show what came of it.

        The word is on disk before the next flag is shown. Queue, plan and marks follow
        when the flag is on the screen.

        Parameters
        ----------
        work : callable
            Is given the session; it may raise.

        Returns
        -------
        bool
            Whether it was done.
        """
        session = self.session
        if session is None:
            self.said.emit("No clump is shown yet.")
            return False
        done = False
        before, shown = session.review.record.decisions, session.current
        with self.telling():
            work(session)
            done = True
        if session.review.record.decisions != before:
            self._say_where()  # What was said before holds no more.
            self._drop_plan()
            self.entries[self.index].take(session.review.record)
        elif session.current is not shown:
            self._drop_effect()
        self.flag_changed.emit()
        self._rest.ask()
        return done

    def answer(self, says: Answer) -> None:
        """Answer the flag that is shown."""
        self.do(lambda session: session.answer(says))

    def undo(self) -> None:
        """Take back the last word."""
        self._turn(Session.undo, "There is nothing to take back.")

    def redo(self) -> None:
        """Bring back the word taken back last."""
        self._turn(Session.redo, "There is nothing to bring back.")

    def accept_rest(self) -> None:
        """Confirm all open flags from the settings' likelihood on."""
        chance, counts = self.settings.accept_from / 100, list[int]()
        if self.do(lambda session: counts.append(session.accept_rest(chance))):
            (count,) = counts
            self.said.emit(accepted_words(count, self.settings.accept_from))

    def set_style(self, style: Style) -> None:
        """Choose the style of the plan."""
        if self.session is not None and self.session.style != style:
            self.session.style, self.session.most_pieces = style, None
            self.ask_plan()

    def want_pieces(self, more: int) -> None:
        """Ask for so many pieces more than the plan has, or for any number again."""
        session, plan = self.session, self.plan
        if session is None or plan is None:
            return
        wanted = max(1, len(plan.pieces) + more)
        most = max((choice.pieces for choice in plan.choices), default=wanted)
        session.most_pieces = wanted if wanted < most else None
        self.ask_plan()

    def set_settings(self, **values: Any) -> None:
        """Change settings and keep them on disk."""
        with self.telling():
            settings: Settings = replace(self.settings, **values)
            check(settings)
            self.settings = settings
            write_settings(settings, self.settings_file)
        self.settings_changed.emit()

    def ask_plan(self) -> None:
        """Have the plan made anew in the background; only the latest wish counts."""
        session = self.session
        if session is None or self.frame is None:
            return
        self._drop_effect()
        flag = session.current
        self._asked = self._planner.submit(
            plan_and_draw,
            session.review.record,
            session.style,
            self.job.rules,
            flag.id if flag else None,
            self.frame,
            not session.left_to_plan,
            session.most_pieces,
            read_far(session.review.record, session.review.path.parent),
            self.least_pt,
        )
        self._asked.add_done_callback(self._planned.emit)

    def put_plan(self, plan: Plan) -> None:
        """Keep and show a plan with a cut that the grower moved."""
        session = self.session
        assert session is not None
        assert self.frame is not None
        with self.telling():
            session.keep_plan(plan, session.review.record.decisions)
            self.plan = plan
            self.plan_picture = draw_plan(self.frame, session.record, self.least_pt)
            self.plan_changed.emit()
            if self._asked is not None and not self.effect:
                self.ask_plan()  # What is on its way knows nothing of the move.

    def save_sheet(self) -> list[Path]:
        """Write the sheet; return its files."""
        files: list[Path] = []
        if self.session is None or self.session.record.plan is None:
            self.said.emit("There is no plan yet: answer the flags that decide it.")
            return files
        with self.telling():
            files = self.session.save_sheet()
            self.said.emit(f"The sheet is saved: {files[0]}")
        return files

    def close(self) -> None:
        """Stop all work; what is still on its way finds no window any more."""
        self._rest.drop()
        self._pause.drop()
        self._drop_effect()
        self.session, self.entries = None, []
        if self._ahead is not None:
            self._ahead.close()
        self._planner.close()

    def _turn(self, turn: Callable[[Session], bool], nothing: str) -> None:
        turned = False

        def work(session: Session) -> None:
            nonlocal turned
            turned = turn(session)

        if self.do(work) and not turned:
            self.said.emit(nothing)

    def _drop_plan(self) -> None:
        """Forget the plan: it is out of date."""
        if self.plan is not None:
            self.plan = self.plan_picture = None
        self._drop_effect()

    def _drop_effect(self) -> None:
        """Forget what the last flag does, and the plan that may be on its way."""
        if self._asked is not None:
            self._asked.cancel()
        self.effect, self._asked = "", None

    def _follow(self) -> None:
        """Do what a word or another flag entails but nobody waits for."""
        with self.telling():
            if self._asked is None:
                self.ask_plan()
            self.settled.emit()
            self.plan_changed.emit()
            self.queue_changed.emit()

    def _say_where(self) -> None:
        name = self.entries[self.index].photo_path.stem
        self.said.emit(f"{name}, {self.index + 1} of {len(self.entries)}.")

    def _show(self) -> None:
        """Show the wanted clump if it is ready."""
        assert self._ahead is not None
        ready = self._ahead.ready(self.index)
        if ready is None:
            return
        with self.telling():
            self.session = Session(ready, self.job)
            self.frame = overlay_frame(ready, self.session.record)
            self.plan = self.plan_picture = None
            self._drop_effect()
            self.clump_changed.emit()
            self._say_where()
            self._rest.ask()

    def _take_told(self, entry: Entry) -> None:
        if entry not in self.entries:
            return
        if entry is self.entries[self.index] and self.session is None:
            if entry.state == "refused":
                self.said.emit(entry.message)
            else:
                self._show()
        self.queue_changed.emit()

    def _take_plan(self, future: "Future[Planned]") -> None:
        session = self.session
        if future is not self._asked or future.cancelled() or session is None:
            return
        with self.telling():
            try:
                planned = future.result()
            except CancelledError:
                return
            self.effect = planned.effect
            if session.left_to_plan:
                self.plan_picture = planned.picture
            elif session.keep_plan(planned.plan, planned.decisions):
                self.plan, self.plan_picture = planned.plan, planned.picture
                self.made = planned.made
            self.plan_changed.emit()
            self._pause.ask()
