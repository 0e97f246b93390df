"""What the sheet says, sentence by sentence."""

from dataclasses import replace

import numpy as np
import pytest

from eyefind.data import Cut, PhotoFacts, Piece, Scale
from eyefind.sheet import step_words, words


def piece(**changes):
    none = np.zeros((0, 2))
    return replace(Piece("A", ["T1"], [], ["E1"], 0, 0.5, none, 20.0), **changes)


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("card", "Sizes from the bench card, ± 1 %"),
        ("two_points", "Sizes from the two points you set, ± 1 %"),
        ("typed_width", "Sizes from the width you typed, ± 1 %"),
    ],
)
def test_the_scale_and_its_source(source, said):
    assert words.scale_words(Scale(8.0, source, 0.01)) == said


def test_a_guessed_scale_warns():
    said = words.scale_words(Scale(8.0, "guess", 0.35))
    assert "GUESS" in said
    assert "± 35 %" in said
    assert "Do not trust" in said


def test_the_date_is_that_of_the_photo():
    facts = PhotoFacts("a.jpg", "", 1, 1, "2025-11-02T10:15:07")
    assert words.taken_words(facts) == "Photo taken 2025-11-02, 10:15"
    assert words.taken_words(replace(facts, taken_at=None)) == "Photo date not known"


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        # Levels of Mastrandrea et al. 2010, guidance note of the IPCC, table 1:
        # very likely from 90 %, likely from 66 %, as likely as not from 33 %,
        # unlikely below 33 %, very unlikely below 10 %.
        (0.90, "very likely, 90 %"),
        (0.89, "likely, 89 %"),
        (0.66, "likely, 66 %"),
        (0.5, "as likely as not, 50 %"),
        (0.32, "unlikely, 32 %"),
        (0.05, "very unlikely, 5 %"),
        (1.0, "almost sure, 99 %"),
        (0.9999, "almost sure, 99 %"),
    ],
)
def test_a_likelihood_is_never_said_to_be_certain(chance, said):
    assert words.chance_words(piece(eye_chance=chance)) == said


def test_only_a_confirmed_eye_is_sure():
    assert words.chance_words(piece(confirmed_eyes=1)) == "sure, 100 %"
    assert words.eyes_words(piece(confirmed_eyes=1)) == "1 confirmed"
    both = piece(confirmed_eyes=1, eyes=["E1", "E2", "E3"])
    assert words.eyes_words(both) == "1 confirmed, 2 likely"


def test_no_eye_seen_is_not_called_no_eye():
    assert words.eyes_words(piece(eyes=[])) == "no eye seen"
    assert words.chance_words(piece(eyes=[], eye_chance=0.0)) == "not known"


@pytest.mark.parametrize(
    ("path", "said"),
    [
        # The painted clump spans about 1000 px at 4 px/mm; rows grow downwards.
        (
            [[250, 600], [250, 400]],
            "Knife. Enter at the arrow, top. Cut left, about 50 mm.",
        ),
        (
            [[600, 600], [700, 700]],
            "Knife. Enter at the arrow. Cut down and right, about 35 mm.",
        ),
        (
            [[900, 600], [860, 600]],
            "Knife. Cut across at the arrow, bottom, about 10 mm.",
        ),
        ([[600, 600]], "Knife. Cut at the number."),
        (np.zeros((0, 2)), "Knife. Cut at the number."),
    ],
)
def test_what_to_do_at_a_cut(path, said, record):
    cut = Cut(1, "cut", np.array(path, dtype=float), "knife", "why")
    assert step_words.cut_words([cut], record) == said


def test_a_guessed_scale_gives_no_millimetres(record, plan):
    guess = replace(record, scale=replace(record.scale, source="guess"))
    for cut in plan.cuts:
        assert " mm" in step_words.cut_words([cut], record)
        assert " mm" not in step_words.cut_words([cut], guess)


def test_only_short_cuts_that_are_alike_are_told_together(record, plan):
    short, long = plan.cuts[2], plan.cuts[3]
    row = [short, replace(short, number=9), long, long, replace(short, tool="knife")]
    lengths = [len(group) for group in step_words.alike_in_a_row(row, record)]
    assert lengths == [2, 1, 1, 1]


def test_a_reason_is_shared_only_when_it_is_the_same():
    share = step_words.shared_reason
    assert share(["T1: it rots", "T2: it rots"]) == (["T1", "T2"], "it rots")
    for whys in (["T1: it rots", "T2: it dries"], ["no colon", "nor here"]):
        assert share(whys) == (whys, "")


def test_what_leaves_is_told_with_its_cut_and_its_doubt(record, plan, standing):
    told = dict(step_words.discard_words(record, plan, standing))
    assert any(name.startswith("Cut 2: T5") for name in told)
    assert not any("not confirmed" in name for name in told)
    open_ = [name for name, _ in step_words.discard_words(record, plan, {})]
    assert "Cut 2: T5, spent parent (F1 not confirmed)" in open_
    rejected = [
        n for n, _ in step_words.discard_words(record, plan, {"F1": "rejected"})
    ]
    assert "Cut 2: T5" in rejected


def test_every_id_in_the_words_has_its_name_in_the_picture(record, plan, standing):
    told = replace(plan, warnings=["T9 hides S2: see F7."])
    spoken = words.spoken_of(replace(record, plan=told), standing)
    assert {"T9", "S2", "F7"} <= spoken
    assert "E1" not in spoken
    assert "E1" in words.spoken_of(record, {**standing, "E1": "not_sure"})


def test_drying_time_is_a_range_from_the_rules(rules):
    said = step_words.drying_words(rules)
    assert "about 24 hours" in said
    assert "20 minutes to 3 days" in said
