"""Every sentence of a plan: short, plain, and with the numbers of the rules in it."""

from collections.abc import Sequence

from eyefind.data import Kind
from eyefind.rules import Rule, Rules

SHORTEN = "shorten the stem"
TAKE_OFF: dict[Kind, str] = {
    "spent_parent": "take out the spent parent",
    "soft": "cut back soft flesh",
    "tuber_on_tuber": "take off a tuber-on-tuber",
    "rat_tail": "trim a rat's tail",
    "broken_neck": "take off a broken neck",
}
TRIM = "trim an oversize tuber"
PART_STEMS = "part the stems"
HALVE = "halve the crown"
SPLIT = "split off a piece"
SPLITS = (PART_STEMS, HALVE, SPLIT)
PURPOSES = (SHORTEN, *TAKE_OFF.values(), TRIM, *SPLITS)
"""The order in which a hand works; the splits come last, larger parts first."""

KIND: dict[Kind, str] = {
    "eye": "an eye",
    "spent_parent": "the spent parent",
    "soft": "soft flesh",
    "tuber_on_tuber": "a tuber grown from another tuber",
    "rat_tail": "a rat's tail",
    "broken_neck": "a tuber with a broken neck",
}
REASON: dict[Kind, str] = {
    "spent_parent": "it often rots in store and takes the others with it",
    "soft": "soft flesh rots in store and spreads",
    "tuber_on_tuber": "a tuber grown from another tuber carries no eye",
    "rat_tail": "a thin root stores nothing, takes room and dries or rots",
    "broken_neck": "with a broken neck its food cannot reach an eye",
}

FAR_END = "it is oversize: you chose to trim the far end"
ONLY_A_STUB = "only a stub is stored: a long hollow stem holds water"
NOT_BY_BODY = "never hold it by the body"
FIND_IT = "find it before you cut there"
LOOK_FIRST = "look at it first"
"""How a note on a piece ends that matters before the cut."""
NO_EYE = "no eye confirmed: keep it and look again in spring"
FAR_SIDE = (
    "A photo shows one side only, and soft parts need not show: turn the clump, look "
    "at every side and press every tuber before you cut."
)
PREVIEW = (
    "No eye is confirmed yet, so the splits are only a preview: do not divide this "
    "clump on this photo alone."
)
GUESSED_SCALE = (
    "The scale of this photo is a guess, so every millimetre here is a guess: measure "
    "before you cut."
)
NO_CROWN = (
    "No crown was made out on this photo, so no way to divide this clump can be shown: "
    "keep it whole, or take another photo."
)
NO_TUBERS = (
    "No tubers were made out on this photo, so nothing can be planned: keep the clump "
    "whole, or take another photo."
)
NOTHING_STAYS = (
    "No tuber would stay: every one is marked to come off. Look again before you cut."
)
NO_CONFIRMED_EYE = (
    "No eye is confirmed anywhere on this clump: do not divide it on this photo alone."
)
NOT_CHECKED = (
    "The drawn splits did not pass their last check and were left out: keep the clump "
    "whole, or divide by eye."
)


def top_of(stem: str) -> str:
    """Name what is cut off a stem."""
    return f"the top of {stem}"


def names(ids: Sequence[str]) -> str:
    """Return ids as a list in a sentence: ``A, B and C``."""
    if len(ids) < 2:
        return "".join(ids)
    return f"{', '.join(ids[:-1])} and {ids[-1]}"


def in_a_hundred(chance: float) -> str:
    """Return a chance in words, never rounded up to certainty."""
    return f"{min(int(100 * chance + 0.5), 99)} in 100"


def why_shorten(stem: str, left_mm: float, stub: Rule) -> str:
    """Say why a stem is cut and where."""
    return (
        f"Leaves a stub of about {left_mm:.0f} mm on {stem} (usual range {stub.low:g} "
        f"to {stub.high:g} mm): a long stem holds water, dries slowly and invites rot."
    )


def because_soft(flag: str) -> str:
    """Say that a stub is shorter because of a soft place."""
    return f" Shorter here because of the soft place {flag}."


def end_on(stem: str, stub: Rule) -> str:
    """Say that a stem's length cannot be measured."""
    return (
        f"Stem {stem} is short or points at the camera, so its length cannot be "
        f"measured: leave about {stub.value:g} mm of it (usual range {stub.low:g} to "
        f"{stub.high:g} mm)."
    )


def not_shortened(stem: str, stub_mm: float, reason: str) -> str:
    """Say that no cut was drawn across a stem."""
    return (
        f"No cut is drawn across {stem}: {reason}. Leave about {stub_mm:g} mm of it "
        "where your hand finds room."
    )


def why_off(kind: Kind, what: str, flag: str) -> str:
    """Say why a part comes off."""
    if kind == "soft":
        return (
            f"Too little sound flesh would be left on {what} ({flag}): {REASON[kind]}."
        )
    return f"{what} is {KIND[kind]} ({flag}): {REASON[kind]}."


def why_back(what: str, flag: str, margin: Rule) -> str:
    """Say how far soft flesh is cut back."""
    return (
        f"Soft flesh on {what} ({flag}): cut {margin.value:g} mm into sound flesh, and "
        "go on in thin slices until the cut face is clean and firm all over."
    )


def why_tail(what: str, flag: str) -> str:
    """Say why a thin end is trimmed."""
    return f"The thin end of {what} ({flag}): {REASON['rat_tail']}."


def not_cut(kind: Kind, what: str, flag: str, reason: str) -> str:
    """Say that a cut was left out, and why."""
    return (
        f"{what[0].upper()}{what[1:]} ({flag}, {KIND[kind]}) stays: {reason}. Look "
        "whether it can come off."
    )


def much_leaves(gone: int, tubers: int) -> str:
    """Warn that most of the clump would be thrown away."""
    return (
        f"{gone} of {tubers} tubers would come off: look at each of them before you "
        "cut, a photo can mislead."
    )


def look_first(items: Sequence[str]) -> str:
    """List what must be looked at before anything is cut there."""
    return f"Look at these first, they are not cut here: {names(items)}."


def eye_leaves(eye: str, what: str) -> str:
    """Say that a doubtful eye would leave with a part."""
    return f"Flag {eye} lies on {what}, which comes off: look at it before that cut."


def hangs_on(tuber: str, host: str) -> str:
    """Say that a tuber leaves because what it hangs on leaves."""
    return (
        f"{tuber} seems to hang on {host} and leaves with it: look whether it has a "
        "neck of its own on the crown."
    )


def soft_crown(flag: str) -> str:
    """Say that no cut can be drawn for a soft place on the crown."""
    return (
        f"The soft place {flag} lies on the crown: scrape or slice it back to sound "
        "flesh by hand, away from the eyes."
    )


def cannot_place(flag: str, kind: Kind) -> str:
    """Say that a flag has no outline to cut by."""
    return (
        f"{flag} ({KIND[kind]}) belongs to no tuber that was made out: cut it by hand "
        "if you agree."
    )


def thick_body(tuber: str, flag: str) -> str:
    """Say that a tuber is not taken for the rat's tail on it."""
    return (
        f"{tuber} stays: it is too thick for {KIND['rat_tail']} ({flag}). Trim only "
        "its thin end, by hand and well away from the neck."
    )


def hidden_necks(tubers: Sequence[str]) -> str:
    """Say which tubers' necks nobody can see."""
    verb = "lies" if len(tubers) == 1 else "lie"
    return (
        f"{names(tubers)} {verb} apart from the crown here, so where the neck runs "
        "is a guess: feel for it before you cut nearby."
    )


def all_small(rules: Rules) -> str:
    """Say that no body is worth its room."""
    return (
        "Every tuber here is smaller than your rules call worth its room (thinner than "
        f"{rules.value('smallest_body_diameter_mm'):g} mm or shorter than "
        f"{rules.value('smallest_body_length_mm'):g} mm)."
    )


def together(tubers: Sequence[str], rules: Rules) -> str:
    """Say that neighbours cannot be parted within the rules."""
    return (
        f"{names(tubers)} stay together: no straight cut between them keeps "
        f"{rules.value('eye_clearance_mm'):g} mm from every eye and clear of every "
        "neck."
    )


def stems_together(stems: Sequence[str], possible: bool) -> str:
    """Say why stems are not parted."""
    why = (
        "parting them would leave a piece without a safe eye"
        if possible
        else "no straight cut between them leaves a tuber with each stem and keeps "
        "clear of every eye, neck and stem"
    )
    return f"Stems {names(stems)} stay together: {why}."


def why_split(sides: Sequence[Sequence[str]]) -> str:
    """Say what a split parts."""
    return f"Parts {names(sides[0])} from {names(sides[1])}."


def why_trim(tuber: str, length_mm: float, rules: Rules) -> str:
    """Say why an oversize tuber is trimmed."""
    trim = rules["oversize_trim_fraction"]
    return (
        f"{tuber} is oversize (about {length_mm:.0f} mm): your rules trim up to "
        f"{100 * trim.value:.0f} % from its far end (sources say {100 * trim.low:.0f} "
        f"to {100 * trim.high:.0f} %)."
    )


def not_trimmed(tuber: str, reason: str) -> str:
    """Say that an oversize tuber is not trimmed."""
    return f"{tuber} is oversize but is not trimmed: {reason}."


def doubtful(chance: float, rules: Rules) -> str:
    """Say that a piece may have no eye."""
    seen = f"the chance of an eye is about {in_a_hundred(chance)}"
    return (
        f"doubtful: {seen if chance >= 0.005 else 'no eye was seen'}, your rules "
        f"ask for {100 * rules.value('safe_eye_chance'):.0f} in 100"
    )


def on_other_side(eyes: Sequence[tuple[str, str | None]]) -> str:
    """Say which eyes do not show on the main photo, and on which tuber each is."""
    named = ", ".join(f"{eye} on {tuber}" for eye, tuber in eyes)
    return f"eye seen on the other side: {named}, {FIND_IT}"


def same_eye(eye: str, also: Sequence[str]) -> str:
    """Say that an eye was seen on photos of other sides too."""
    return f"{eye} counts as one eye with {' and '.join(also)}"


def stays_for_spring(tubers: Sequence[str]) -> str:
    """Say why tubers without an eye of their own stay with a neighbour."""
    verb = "shows" if len(tubers) == 1 else "show"
    stay = "stays" if len(tubers) == 1 else "stay"
    return (
        f"{names(tubers)} {verb} no eye to count on and {stay} with a neighbour: look "
        "again in spring"
    )


def thin_neck(tuber: str, neck_mm: float) -> str:
    """Warn of a thin neck, or of one that was not made out."""
    if neck_mm < 0.5:
        return f"the neck of {tuber} was not made out: {NOT_BY_BODY}"
    return f"thin neck on {tuber} (about {neck_mm:.0f} mm): {NOT_BY_BODY}"


def small_body(tuber: str) -> str:
    """Say that a body is small."""
    return f"{tuber} is small: it dries out first"


def oversize(tuber: str, length_mm: float, rules: Rules) -> str:
    """Say that a long tuber may be trimmed."""
    trim = rules["oversize_trim_fraction"]
    return (
        f"{tuber} is oversize (about {length_mm:.0f} mm): you may trim up to "
        f"{100 * trim.value:.0f} % from its far end (sources say {100 * trim.low:.0f} "
        f"to {100 * trim.high:.0f} %)"
    )


def may_be(tuber: str, kind: Kind, flag: str) -> str:
    """Say that a kept tuber is under suspicion."""
    return f"{tuber} may be {KIND[kind]} ({flag}): {LOOK_FIRST}"


REASON_FOR_STYLE = {
    "whole": "The clump is cleaned and kept whole",
    "stems": "You asked for one piece a stem where each has a safe eye",
    "singles": "You asked for as many safe pieces as possible",
    "least": "You asked for the least cutting that gives a second safe piece",
}


def reason(
    style: str, pieces: int, most: int, most_pieces: int | None, room_l: float | None
) -> str:
    """Say why a number of pieces was picked.

    Parameters
    ----------
    style : str
        The style.
    pieces, most : int
        Pieces of the plan; the most safe pieces that can be had.
    most_pieces, room_l : int and float or None
        What the grower set as limits.
    """
    asked = REASON_FOR_STYLE[style]
    if style == "whole":
        return f"{asked}: no way to divide it was looked for."
    if most_pieces is not None:
        asked += f", not more than {most_pieces}"
    if room_l is not None:
        asked += f", and as few cuts as fit into {room_l:g} l"
    if most > 1:
        can = f"{most} safe pieces can be had in all"
    elif style == "stems":
        can = "parting the stems gives no second safe piece"
    else:
        can = "no cut gives a second safe piece"
    return f"{asked}: this plan has {pieces}; {can}."


def too_little_room(room_l: float, least_l: float) -> str:
    """Say that no plan fits into the store."""
    return (
        f"No plan fits into {room_l:g} l: the smallest needs about {least_l:.1f} l. "
        "Here is the one with the most pieces, which pack best."
    )


def close_call(pieces: int) -> str:
    """Say that another plan is nearly as good."""
    return (
        f"Another way to make {pieces} pieces is nearly as good; it is shown as well. "
        "Take the one that suits your hand."
    )
