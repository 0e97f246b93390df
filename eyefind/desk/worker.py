"""A process of its own for slow work: it never slows the window and may die alone."""

import multiprocessing
import os
import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, Final, ParamSpec, TypeVar

from eyefind.errors import EyefindError

BEHIND_WINDOW: Final = 10
"""How far the work steps back where the window, and the driver that draws it, want the
same core (POSIX nice value, 0 to 19)."""

P = ParamSpec("P")
T = TypeVar("T")


class WorkerDiedError(EyefindError):
    """The process that did the work died, or was stopped."""


class Worker:
    """Does one job after the other in another process.

    The process starts with the first job. If it dies, that job fails with
    `WorkerDiedError` and the next one starts a new process.

    Parameters
    ----------
    name : str
        Name of the thread that waits for it.
    """

    def __init__(self, name: str) -> None:
        self._jobs: queue.SimpleQueue[tuple[Future[Any], Any] | None] = (
            queue.SimpleQueue()
        )
        self._process: multiprocessing.process.BaseProcess | None = None
        self._line: Connection | None = None
        self._closed = False
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def submit(
        self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs
    ) -> "Future[T]":
        """Put a job at the end of the line.

        Parameters
        ----------
        work : callable
            A function of a module; it and its arguments travel to the process.
        *args, **kwargs
            Its arguments.

        Returns
        -------
        Future
            Its outcome; callbacks come from the worker's thread.
        """
        future: Future[T] = Future()
        self._jobs.put((future, (work, args, kwargs)))
        return future

    def stop(self) -> None:
        """Stop the job that is running now; those in the line go on."""
        process = self._process
        if process is not None and process.is_alive():
            process.terminate()

    def close(self) -> None:
        """Stop what runs, drop what waits and end."""
        self._closed = True
        self._jobs.put(None)
        self.stop()

    def _run(self) -> None:
        while (job := self._jobs.get()) is not None:
            future, work = job
            if self._closed or not future.set_running_or_notify_cancel():
                future.cancel()
                continue
            try:
                done, value = self._ask(work)
            except (EOFError, OSError):
                self._end()
                done, value = (
                    False,
                    WorkerDiedError(
                        "The work on this clump stopped before it was done.",
                        "Try again. If it dies once more, photograph the clump anew.",
                    ),
                )
            if done:
                future.set_result(value)
            else:
                future.set_exception(value)
        self._end()

    def _ask(self, work: Any) -> tuple[bool, Any]:
        if self._process is None or not self._process.is_alive():
            # A fresh interpreter: a fork would take the window's threads along.
            context = multiprocessing.get_context("spawn")
            self._line, far_end = context.Pipe()
            self._process = context.Process(target=serve, args=(far_end,), daemon=True)
            self._process.start()
            far_end.close()
        assert self._line is not None
        self._line.send(work)
        return self._line.recv()  # type: ignore[no-any-return]

    def _end(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.join(1.0)
            self._process = None


def serve(line: Connection) -> None:
    """Do what comes down the line until it is cut (runs in the other process)."""
    if hasattr(os, "nice"):  # Windows has none.
        os.nice(BEHIND_WINDOW)
    with suppress(EOFError, BrokenPipeError, KeyboardInterrupt):
        while True:
            work, args, kwargs = line.recv()
            try:
                answer = (True, work(*args, **kwargs))
            except Exception as error:
                answer = (False, error)
            line.send(answer)
