"""Settings and keys: kept, checked, never a reason not to start."""

import pytest

from eyefind.desk.keys import ACTIONS, key_words, keys_in_use
from eyefind.desk.settings import Settings, read_settings, write_settings
from eyefind.errors import UsageError


def test_settings_come_back(tmp_path):
    path = tmp_path / "new" / "review.json"
    settings = Settings(scheme="light", text_percent=175, keys={"confirm": ["F12"]})
    write_settings(settings, path)
    assert read_settings(path) == (settings, "")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        '{"times": 40}',
        '{"keys": {"dance": ["J"]}}',
        '{"scheme": "pink"}',
        '{"view": "pink"}',
    ],
)
def test_what_cannot_be_used_is_told_and_ours_are_taken(tmp_path, text):
    path = tmp_path / "review.json"
    path.write_text(text)
    settings, complaint = read_settings(path)
    assert settings == Settings()
    assert str(path) in complaint


def test_no_key_does_two_things():
    keys = [key for action in ACTIONS for key in action.keys]
    assert len(keys) == len(set(keys))


def test_an_own_key_is_taken_from_the_action_that_had_it():
    keys = keys_in_use({"confirm": ["K"]})
    assert keys["confirm"] == ("K",)
    assert keys["reject"] == ("Num+2",)


def test_one_key_for_two_actions_is_refused():
    with pytest.raises(UsageError, match="K is given to two actions"):
        keys_in_use({"confirm": ["K"], "undo": ["K"]})


def test_keys_in_words():
    assert key_words(("J", "Num+1")) == "J or pad 1"
