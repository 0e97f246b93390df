"""Slow work in another process: it may fail or die alone."""

import os
import time

import pytest

from eyefind.desk.worker import Worker, WorkerDiedError
from eyefind.errors import PhotoError


@pytest.fixture
def worker():
    worker = Worker("test")
    yield worker
    worker.close()


def refuse():
    raise PhotoError("It is dark.", "Add light.")


def test_work_comes_back(worker):
    assert worker.submit(divmod, 7, 2).result(30) == (3, 1)


@pytest.mark.skipif(not hasattr(os, "nice"), reason="this system has no nice value")
def test_it_steps_back_behind_the_window(worker):
    assert worker.submit(os.nice, 0).result(30) > os.nice(0)


def test_an_error_comes_back_whole(worker):
    error = worker.submit(refuse).exception(30)
    assert (error.what, error.advice) == ("It is dark.", "Add light.")


def test_a_death_fails_its_own_job_only(worker):
    dead, alive = worker.submit(os._exit, 1), worker.submit(abs, -4)
    assert isinstance(dead.exception(30), WorkerDiedError)
    assert alive.result(30) == 4


def test_running_work_is_stopped(worker):
    worker.submit(abs, 1).result(30)
    running = worker.submit(time.sleep, 60)
    time.sleep(0.1)
    worker.stop()
    assert isinstance(running.exception(10), WorkerDiedError)


def test_it_is_stopped_at_any_time(worker):
    """Also in the moment when its process is made but not started."""
    future = worker.submit(time.sleep, 60)
    while not future.done():
        worker.stop()
    assert isinstance(future.exception(), WorkerDiedError)
