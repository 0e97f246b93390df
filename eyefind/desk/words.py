"""What the window says, in the grower's words."""

from typing import Final

from eyefind.data import Flag, Kind, Plan, Says, Scale
from eyefind.words import counted

QUESTIONS: Final[dict[Kind, str]] = {
    "eye": "Is this an eye?",
    "spent_parent": "Is {part} the spent parent?",
    "soft": "Is {part} soft here?",
    "tuber_on_tuber": "Does {part} grow from another tuber?",
    "rat_tail": "Is this a rat's tail?",
    "broken_neck": "Is the neck of {part} broken?",
}
ANSWER_WORDS: Final[dict[str, str]] = {
    "confirmed": "you said yes",
    "rejected": "you said no",
    "not_sure": "you were not sure",
}
LEVELS: Final = (
    (0.9, "almost surely"),
    (0.7, "likely"),
    (0.5, "rather likely"),
    (0.3, "perhaps"),
    (0.0, "unlikely"),
)
HINTS: Final[dict[Kind, str]] = {
    "eye": "Look for a bud above the neck, on the crown. Feel it.",
    "spent_parent": "Dark skin alone is no proof. Feel it, slice its far end.",
    "soft": "Press it. No photo tells a disease.",
    "tuber_on_tuber": "It has no eye of its own.",
    "rat_tail": "Thin roots are trimmed.",
    "broken_neck": "Move it gently: a broken neck gives way.",
}


def question(flag: Flag) -> str:
    """Return the question that a flag puts to the grower."""
    return QUESTIONS[flag.kind].format(part=flag.belongs_to or "this")


def chance_words(chance: float) -> str:
    """Return a likelihood in words and in tenths: ``"likely, 8 in 10"``.

    Nothing that is guessed from a photo is said to be certain either way.
    """
    level = next(words for least, words in LEVELS if chance >= least)
    tenths = {0: "under 1", 10: "over 9"}.get(round(10 * chance), round(10 * chance))
    return f"{level}, {tenths} in 10"


def accepted_words(count: int, percent: int) -> str:
    """Say how many flags were accepted in one go, from a likelihood in percent on."""
    if not count:
        return f"No open flag is {percent} % likely or more: nothing was accepted."
    back = "it" if count == 1 else "all of them"
    return f"{counted(count, 'flag')} accepted. One undo takes {back} back."


def belongs_words(flag: Flag, scale: Scale) -> str:
    """Return what a flag belongs to and how large it is."""
    part = {"T": "tuber", "S": "stem"}.get((flag.belongs_to or " ")[0])
    on = f"On {part} {flag.belongs_to}" if part else "On no tuber"
    doubt = ", a guess" if scale.source == "guess" else ""
    return f"{on}, {flag.size_mm:.1f} mm{doubt}."


def place_words(place: int, count: int, says: Says | None) -> str:
    """Return which flag is shown and what was said of it."""
    if not count:
        return "No flag on this clump"
    state = ANSWER_WORDS[says] if says else "not answered"
    return f"Flag {place + 1} of {count}, {state}"


def plan_words(plan: Plan) -> str:
    """Return a plan in a sentence."""
    leave = f", {len(plan.discards)} not stored" if plan.discards else ""
    pieces, cuts = counted(len(plan.pieces), "piece"), counted(len(plan.cuts), "cut")
    return f"{pieces}, {cuts}{leave}."


def waiting_words(left: int) -> str:
    """Return what the plan still waits for."""
    return f"{counted(left, 'more answer')} and the plan is drawn."


def spoken(flag: Flag, place: int, count: int, says: Says | None) -> str:
    """Return what a screen reader says of the flag that is shown."""
    return (
        f"{place_words(place, count, says)}. {question(flag)} "
        f"{chance_words(flag.likelihood)}."
    )
