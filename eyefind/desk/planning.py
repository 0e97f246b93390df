"""The plan, what the shown flag does to it, and its picture, in one piece of work."""

from dataclasses import dataclass, replace

from eyefind.data import Decision, Plan, Record, Style
from eyefind.desk.foresight import foresee
from eyefind.desk.overlay import Overlay, draw_plan
from eyefind.plan.nudge import keep_moved
from eyefind.review import in_force, standing
from eyefind.rules import Rules
from eyefind.sheet.frame import Frame
from eyefind.sides import Far


@dataclass(frozen=True, eq=False)
class Planned:
    """A plan and its picture.

    Attributes
    ----------
    plan, made : Plan
        The plan, and as it was made before the grower's moved cuts were put in.
    effect : str
        What an answer to the shown flag would make of it.
    picture : (H, W, 4) uint8 array
        The plan and the names of the tubers, to lay over the photo.
    decisions : list of Decision
        Those that it was made from.
    """

    plan: Plan
    made: Plan
    effect: str
    picture: Overlay
    decisions: list[Decision]


def plan_and_draw(
    record: Record,
    style: Style,
    rules: Rules,
    flag_id: str | None,
    frame: Frame,
    due: bool,
    most_pieces: int | None,
    far: Far,
    least_pt: float,
) -> Planned:
    """Make the plan and draw it.

    Parameters
    ----------
    record : Record
        As it is on disk; cuts that were moved stay so.
    style : str
        Style of the plan.
    rules : Rules
        The rules of the trade.
    flag_id : str or None
        The flag that is shown.
    frame : Frame
        What the picture covers.
    due : bool
        Whether every flag that decides the plan is answered; else only the names of
        the tubers are drawn.
    most_pieces : int or None
        No more pieces than this.
    far : Far
        What the photos of other sides add.
    least_pt : float
        No letter of the picture is drawn smaller.

    Returns
    -------
    Planned
        Plan and picture.
    """
    foresight = foresee(record, style, rules, flag_id, most_pieces, far)
    shown, words = in_force(record), standing(record.flags, record.decisions)
    plan = keep_moved(foresight.plan, record.plan, shown, words, rules)
    shown = replace(shown, plan=plan if due else None)
    picture = draw_plan(frame, shown, least_pt)
    return Planned(plan, foresight.plan, foresight.effect, picture, record.decisions)
