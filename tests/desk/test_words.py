"""What the window says of a likelihood."""

import pytest

from eyefind.desk.words import chance_words


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (1.0, "almost surely, over 9 in 10"),
        (0.97, "almost surely, over 9 in 10"),
        (0.9, "almost surely, 9 in 10"),
        (0.72, "likely, 7 in 10"),
        (0.5, "rather likely, 5 in 10"),
        (0.12, "unlikely, 1 in 10"),
        (0.02, "unlikely, under 1 in 10"),
        (0.0, "unlikely, under 1 in 10"),
    ],
)
def test_a_guess_is_never_said_to_be_certain(chance, said):
    assert chance_words(chance) == said
