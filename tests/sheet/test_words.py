"""What the sheet says, sentence by sentence."""

from dataclasses import replace

import numpy as np
import pytest

from eyefind.data import Cut, PhotoFacts, Piece, Scale
from eyefind.plan import words as plan_words
from eyefind.rules import load_rules
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
        (0.90, "90 %, very likely"),
        (0.89, "89 %, likely"),
        (0.66, "66 %, likely"),
        (0.5, "50 %, as likely as not"),
        (0.32, "32 %, unlikely"),
        (0.05, "5 %, very unlikely"),
        (1.0, "99 %, almost sure"),
        (0.9999, "99 %, almost sure"),
    ],
)
def test_a_likelihood_is_never_said_to_be_certain(chance, said):
    assert words.chance_words(piece(eye_chance=chance)) == said


def test_only_a_confirmed_eye_is_sure():
    assert words.chance_words(piece(confirmed_eyes=1)) == "sure"
    assert words.eyes_words(piece(confirmed_eyes=1)) == "1 confirmed"
    both = piece(confirmed_eyes=1, eyes=["E1", "E2", "E3"])
    assert words.eyes_words(both) == "1 confirmed, 2 possible"
    assert words.eye_sentence(both) == "Eyes: 1 confirmed, 2 possible"
    unsure = piece(eyes=["E1", "E2"], eye_chance=0.94)
    assert words.eye_sentence(unsure) == (
        "Eyes: 2 possible. Chance of an eye: 94 %, very likely"
    )
    far = piece(eyes=["E1", "E2"], far_eyes=1)
    assert words.eyes_words(far) == "2 possible, 1 of them on the other side"


def test_no_eye_seen_is_not_called_no_eye():
    blind = piece(eyes=[], eye_chance=0.0)
    assert words.eyes_words(blind) == "none seen"
    assert words.chance_words(blind) == "not known"
    assert words.eye_sentence(blind) == "No eye seen"
    assert step_words.piece_label_words(blind) == "A / no eye seen yet, look in spring"
    assert step_words.piece_label_words(piece()) == "A / eye not sure, look in spring"
    assert step_words.piece_label_words(piece(confirmed_eyes=1)) == "A / eye seen"


@pytest.mark.parametrize(
    ("path", "said"),
    [
        # The painted clump spans about 1000 px at 4 px/mm; rows grow downwards.
        (
            [[250, 600], [250, 400]],
            "Enter at the arrow, top. Cut left, about 50 mm.",
        ),
        (
            [[600, 600], [700, 700]],
            "Enter at the arrow. Cut down and right, about 35 mm.",
        ),
        (
            [[900, 600], [860, 600]],
            "Cut across at the arrow, bottom, about 10 mm.",
        ),
        ([[600, 600]], "Cut at the number."),
        (np.zeros((0, 2)), "Cut at the number."),
    ],
)
def test_what_to_do_at_a_cut(path, said, record):
    cut = Cut(1, "cut", np.array(path, dtype=float), "knife", "why")
    assert step_words.cut_words(cut, record) == said


def test_a_guessed_scale_gives_no_millimetres(record, plan):
    guess = replace(record, scale=replace(record.scale, source="guess"))
    for cut in plan.cuts:
        assert " mm" in step_words.cut_words(cut, record)
        assert " mm" not in step_words.cut_words(cut, guess)


def test_a_cut_like_the_one_before_is_told_by_its_place_only(record, plan):
    first = replace(plan.cuts[0], hold="Hold T1.", enter="Enter at T1.", stop="Stop.")
    like = replace(first, number=2, hold="Hold T2.", enter="Enter at T2.")
    assert step_words.way_words(first, None, record) == [
        "Hold T1.",
        "Enter at T1.",
        "Stop.",
    ]
    assert step_words.way_words(like, first, record) == [
        "In the same way: enter at T2."
    ]
    for other in (
        replace(like, hold="Hold the crown."),
        replace(like, stop="Stop at T1."),
        replace(like, purpose="another"),
        replace(like, tool="knife"),
        replace(like, enter=""),
    ):
        assert not step_words.is_like(other, first)


def test_a_reason_is_told_once_for_all_its_cuts(plan):
    whys = ["T1: it rots.", "T2: it rots.", "Parts A from B."]
    cuts = [
        replace(plan.cuts[0], number=number, why=why)
        for number, why in enumerate(whys, 1)
    ]
    assert step_words.why_words(replace(plan, cuts=cuts)) == [
        ("Cuts 1, 2", "T1; T2: it rots."),
        ("Cut 3", "Parts A from B."),
    ]


def test_what_leaves_is_told_with_its_cut_and_its_doubt(record, plan, standing):
    told = step_words.discard_words(record, plan, standing)
    assert "T5, spent parent (cut 2)" in told
    assert not any("not confirmed" in name for name in told)
    open_ = step_words.discard_words(record, plan, {})
    assert "T5, spent parent (cut 2; F1 not confirmed)" in open_
    rejected = step_words.discard_words(record, plan, {"F1": "rejected"})
    assert "T5 (cut 2)" in rejected


def test_why_something_leaves_is_told_where_no_cut_tells_it(plan):
    one = plan.discards[0]
    odd = [replace(one, what=what, why="it fell off") for what in ("t8", "T9")]
    told = step_words.other_reasons(replace(plan, discards=[*plan.discards, *odd]))
    assert told == [("T8, T9", "it fell off")]


def test_limits_are_short_and_none_is_left_out(record, plan):
    """The sentences of the plan itself are asked, so that they cannot drift apart."""
    together = plan_words.together(["T1", "T2"], load_rules())
    common = [plan_words.NO_CONFIRMED_EYE, plan_words.PREVIEW, plan_words.FAR_SIDE]
    common += [plan_words.GUESSED_SCALE, plan_words.close_call(len(plan.pieces))]
    told = replace(plan, warnings=[*common, "Something else.", together])
    limits = words.limits(record, told)
    assert not set(limits) & set(common)
    assert "Something else." in limits
    assert together not in limits
    assert words.reasons(told) == [together]
    said = " ".join(limits)
    for part in (
        "no eye is confirmed",
        "only a preview",
        "only this side was seen",
        "scale is a guess",
        "nearly as good",
        "Press every tuber",
    ):
        assert part in said


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


def test_a_neck_that_was_not_made_out_has_no_width():
    assert "about 4 mm" in plan_words.thin_neck("T3", 4.2)
    assert plan_words.thin_neck("T3", 0.2) == (
        "the neck of T3 was not made out: never hold it by the body"
    )
