"""The ways to do one thing in the window."""

import pytest


def ways(name, *keys):
    """Parameters for a test: every key, and a click on the button of this name."""
    return [pytest.param(("key", key), id=key) for key in keys] + [
        pytest.param(("click", name), id="mouse")
    ]


def act(bench, way):
    getattr(bench, way[0])(way[1])
