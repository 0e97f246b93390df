"""What stands, folded from the list of decisions."""

from hypothesis import given
from hypothesis import strategies as st
from records import decision, painted_record

from eyefind.data import Decision, Flag
from eyefind.review import flags_in_force, standing, undoable

FLAGS = painted_record().flags
IDS = [flag.id for flag in FLAGS]

words = st.builds(
    decision,
    st.sampled_from(IDS),
    st.sampled_from(["confirmed", "rejected", "not_sure"]),
)
turns = st.builds(decision, st.just(""), st.sampled_from(["undo", "redo"]))
lists = st.lists(words | turns, max_size=25)
UNDO, REDO = decision("", "undo"), decision("", "redo")


def word_by_word(decisions: list[Decision]) -> dict[str, str]:
    """The same by another road: a history of states and a place in it."""
    history: list[dict[str, str]] = [{}]
    at = 0
    for word in decisions:
        if word.says == "undo":
            at = max(at - 1, 0)
        elif word.says == "redo":
            at = min(at + 1, len(history) - 1)
        else:
            history[at + 1 :] = [history[at] | {word.flag: word.says}]
            at += 1
    return history[at]


@given(lists)
def test_fold_is_a_walk_through_the_history(decisions):
    assert standing(FLAGS, decisions) == word_by_word(decisions)


@given(lists, words)
def test_undo_is_the_inverse_of_a_word(decisions, word):
    before = standing(FLAGS, decisions)
    assert standing(FLAGS, [*decisions, word, UNDO]) == before
    assert undoable([*decisions, word, UNDO])[1] == word


@given(lists)
def test_redo_is_the_inverse_of_undo(decisions):
    last, _ = undoable(decisions)
    back = standing(FLAGS, [*decisions, UNDO, REDO])
    if last is not None:
        assert back == standing(FLAGS, decisions)
    # However many are taken back, as many can be brought back.
    turns = [UNDO] * len(decisions) + [REDO] * len(decisions)
    done = sum(word.says not in ("undo", "redo") for word in decisions)
    assert standing(FLAGS, [UNDO] * 3 + [*decisions, *turns]) == standing(
        FLAGS, [*decisions, *[REDO] * done]
    )


@given(lists, words)
def test_a_new_word_ends_what_could_be_brought_back(decisions, word):
    with_word = [*decisions, word]
    assert undoable(with_word) == (word, None)
    assert standing(FLAGS, [*with_word, REDO]) == standing(FLAGS, with_word)
    assert standing(FLAGS, with_word)[word.flag] == word.says


@given(lists)
def test_taking_back_everything_leaves_nothing(decisions):
    assert standing(FLAGS, decisions + [UNDO] * len(decisions)) == {}


@given(lists)
def test_words_on_unknown_flags_do_not_stand(decisions):
    eyes = [flag for flag in FLAGS if flag.kind == "eye"]
    known = {flag.id for flag in eyes}
    every = standing(FLAGS, decisions)
    assert standing(eyes, decisions) == {k: v for k, v in every.items() if k in known}


def test_an_added_flag_lives_as_long_as_its_words():
    added = Flag("G1", "eye", 5.0, 5.0, 3.0, 0.5, ["pointed out"], None, "added")
    flags = [*FLAGS, added]

    def alive(*words):
        return added in flags_in_force(flags, words)

    add, no = decision("G1", "confirmed"), decision("G1", "rejected")
    assert not alive()
    assert alive(add)
    assert alive(add, no)
    assert alive(add, no, UNDO)
    assert not alive(add, no, UNDO, UNDO)
    assert alive(add, no, UNDO, UNDO, REDO)
    assert not alive(add, UNDO, decision("E1", "confirmed"), REDO)
    # Those that we found are there with or without a word.
    assert flags_in_force(flags, []) == FLAGS
