"""Clumps are read and analysed before their turn comes, in the background."""

import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from dataclasses import replace
from typing import Final

from eyefind.desk.lamp import LampFrames, read_frames
from eyefind.desk.prepare import Prepared, Ready, load, prepare
from eyefind.desk.queue import Entry
from eyefind.desk.worker import Worker
from eyefind.job import Job, TwoPoints, TypedWidth
from eyefind.record import read_record

KEPT: Final = 2
"""Photos in memory: the clump that is shown and the next one."""

Tell = Callable[[Entry], None]


class Ahead:
    """Prepares the clumps of a queue, the one that is shown and the next ones first.

    Looking at a photo is done in another process, reading it in a thread, reading the
    frames of its lamp set in a process of their own. A clump whose look fails or
    crashes is refused with a message, and the others go on.

    Parameters
    ----------
    entries : list of Entry
        The queue; their states are kept up to date.
    job : Job
        The settings.
    tell : callable
        Is called with an entry whose state changed or which became ready to be shown.
        It is called from other threads.
    """

    def __init__(self, entries: list[Entry], job: Job, tell: Tell) -> None:
        self.entries, self.job, self.tell = entries, job, tell
        self.at = 0
        self.cancelled = False
        self._worker = Worker("eyefind-look")
        self._reader = ThreadPoolExecutor(1, "eyefind-read")
        self._lighter = Worker("eyefind-lamp")
        self._lock = threading.RLock()
        self._running: Entry | None = None
        self._prepared: dict[int, Prepared] = {}
        self._ready: dict[int, Future[Ready]] = {}
        self._lit: dict[int, Future[LampFrames | None]] = {}
        self._closed = False

    def go_to(self, index: int) -> None:
        """Prepare the clump of this index first, then those after it."""
        with self._lock:
            self.at = index
            self.cancelled = False
            for other in list(self._ready):
                if not index <= other < index + KEPT:
                    self._forget(other)
            for near in range(index, min(index + KEPT, len(self.entries))):
                self._load(near)
            self._next()

    def ready(self, index: int) -> Ready | None:
        """Return a clump that can be shown now; None while it is prepared."""
        future = self._ready.get(index)
        if future is None or not future.done() or future.cancelled():
            return None
        return None if future.exception() else future.result()

    def lit(self, index: int) -> Future[LampFrames | None] | None:
        """Return a clump's lamp set, read or on its way; None if it is not at hand."""
        return self._lit.get(index)

    def cancel(self) -> None:
        """Stop looking ahead; `go_to` starts it again."""
        with self._lock:
            self.cancelled = True
            self._worker.stop()

    def look_again(self, index: int, ruler: TwoPoints | TypedWidth | None) -> None:
        """Look at a clump again, for instance with a scale that the grower gave."""
        with self._lock:
            self._prepared.pop(index, None)
            self._forget(index)
            entry = self.entries[index]
            entry.state = "waiting"
            self._submit(entry, replace(self.job, ruler=ruler))

    def close(self) -> None:
        """Stop all work; safe while it runs, and at any time."""
        self._closed = True
        self._worker.close()
        self._lighter.close()
        self._reader.shutdown(wait=False, cancel_futures=True)

    @property
    def looked_at(self) -> int:
        """How many clumps need no look any more."""
        return sum(entry.state not in ("waiting", "reading") for entry in self.entries)

    def _next(self) -> None:
        """Give the worker the next clump that needs it; nearest after the shown one."""
        if self._closed or self.cancelled or self._running is not None:
            return
        count = len(self.entries)
        for step in range(count):
            index = (self.at + step) % count
            entry = self.entries[index]
            near = step < KEPT and index not in self._prepared
            if entry.state == "waiting" or (
                near and entry.state in ("open", "bare", "done")
            ):
                self._submit(entry, self.job)
                return

    def _submit(self, entry: Entry, job: Job) -> None:
        self._running = entry
        if entry.state == "waiting":
            entry.state = "reading"
            self.tell(entry)
        future = self._worker.submit(prepare, entry.photo_path, job, entry.frames)
        future.add_done_callback(lambda done: self._take(entry, done))

    def _take(self, entry: Entry, future: Future[Prepared]) -> None:
        with self._lock:
            self._running = None
            if self._closed:
                return
            index = self.entries.index(entry)
            try:
                self._prepared[index] = future.result()
                entry.take(read_record(self._prepared[index].record_path))
                self._load(index)
            except CancelledError:
                entry.state = "waiting"
            except Exception as error:
                if self.cancelled:
                    entry.state = "waiting"
                else:
                    entry.refuse(error)
            self.tell(entry)
            self._next()

    def _load(self, index: int) -> None:
        """Read the photo of a prepared clump, and its lamp set, if it is near."""
        prepared = self._prepared.get(index)
        near = self.at <= index < self.at + KEPT
        if prepared is None or not near or index in self._ready or self._closed:
            return
        entry = self.entries[index]
        future = self._reader.submit(load, entry.photo_path, prepared)
        self._ready[index] = future
        future.add_done_callback(lambda done: self._loaded(entry, done))
        if prepared.has_set:
            self._lit[index] = self._lighter.submit(
                read_frames, entry.photo_path, prepared.record_path
            )

    def _forget(self, index: int) -> None:
        """Let go of the pictures of a clump, and of those on their way."""
        self._ready.pop(index, None)
        if (frames := self._lit.pop(index, None)) is not None:
            frames.cancel()

    def _loaded(self, entry: Entry, future: Future[Ready]) -> None:
        if self._closed or future.cancelled():
            return
        error = future.exception()
        if isinstance(error, Exception):
            entry.refuse(error)
        self.tell(entry)
