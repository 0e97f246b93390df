"""Eyes that were seen on photos of more sides, none counted twice."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from eyefind.plan.standing import Eye


def counted_once(eyes: Sequence[Eye]) -> list[Eye]:
    """Count what may be the same eye, seen on two photos, once.

    On each photo the eyes of a tuber are ranked by the likelihood they were found
    with. Those of one rank are taken for one eye: it has the best word and the best
    chance of them, and the place of the one on the main photo if that has one. So two
    eyes on one photo and three on another make three, and not five. No answer moves an
    eye to another rank; thus a confirmed eye never takes chance from another.

    Parameters
    ----------
    eyes : sequence of Eye
        Those that count, of all photos.

    Returns
    -------
    list of Eye
        In their order, those of the main photo with what other sides add.
    """
    photos: dict[str, dict[int, list[Eye]]] = defaultdict(lambda: defaultdict(list))
    for eye in sorted(eyes, key=lambda eye: (eye.side, -eye.found)):
        if eye.belongs_to is not None:
            photos[eye.belongs_to][eye.side].append(eye)
    first: dict[str, Eye] = {}
    for sides in photos.values():
        for rank in range(max(map(len, sides.values()))):
            same = [seen[rank] for seen in sides.values() if rank < len(seen)]
            first[same[0].id] = _as_one(same)
    loose = {eye.id: eye for eye in eyes if eye.belongs_to is None}
    counted = first | loose
    return [counted[eye.id] for eye in eyes if eye.id in counted]


def _as_one(same: Sequence[Eye]) -> Eye:
    return replace(
        same[0],
        chance=max(eye.chance for eye in same),
        confirmed=any(eye.confirmed for eye in same),
        also=tuple(eye.id for eye in same[1:]),
    )
