"""The whole way for one clump: photo, look, record, plan, sheet.

Without a window and without a command line, for all who need it: each of `Job.look`,
`Job.plan` and `Job.sheet` does the steps before it when they are missing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from hashlib import file_digest
from pathlib import Path

from eyefind.data import (
    Mask,
    Photo,
    PhotoFacts,
    Points,
    Record,
    Scale,
    Style,
)
from eyefind.errors import PhotoError
from eyefind.former import damage_remark, read_former
from eyefind.look import find_clump, look_at, see_whole
from eyefind.photo import (
    Card,
    check_photo,
    find_card,
    further_frames,
    guess_scale,
    lacks_frames,
    lay_together,
    read_code,
    read_photo,
    scale_from_points,
    scale_from_width,
)
from eyefind.plan.nudge import keep_moved
from eyefind.record import (
    DamagedRecordError,
    check_same_photo,
    hold,
    put_plan,
    read_record,
    record_path,
    write_record,
)
from eyefind.review import Review, carry_over, in_force, standing
from eyefind.rules import Rules
from eyefind.sheet import write_sheet
from eyefind.sheet.pages import Paper
from eyefind.sides import plan_of_all, read_far

FIRST_STYLE: Style = "singles"
"""Style of a plan when none was asked for before."""


@dataclass(frozen=True, eq=False)
class TwoPoints:
    """A length that the grower read off a ruler in the photo.

    Attributes
    ----------
    a_rc_px, b_rc_px : (2,) arrays
        Its two ends.
    length_mm : float
        Its length.
    """

    a_rc_px: Points
    b_rc_px: Points
    length_mm: float


@dataclass(frozen=True)
class TypedWidth:
    """The clump's longest side, measured by the grower, in mm."""

    width_mm: float


@dataclass(frozen=True, eq=False)
class Done:
    """What was done with one photo.

    Attributes
    ----------
    photo_path, record_path : Path
        Where photo and record lie.
    record : Record
        The record as it is on disk.
    sheets : list of Path
        The sheet's files, when it was written.
    """

    photo_path: Path
    record_path: Path
    record: Record
    sheets: list[Path] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Job:
    """The settings with which photos are worked on.

    Attributes
    ----------
    rules : Rules
        The rules of the trade.
    out : Path or None
        Folder of records and sheets; that of the photo when None.
    ruler : TwoPoints, TypedWidth or None
        A scale that the grower gives; it outdoes the card and stays in the record.
    style : str or None
        Style of the plan; that of the plan in the record when None.
    paper : str
        Paper of the sheet.
    most_pieces : int or None
        No more pieces than this; as in the last plan when None.
    room_l : float or None
        Room left in the store, litres; as in the last plan when None.
    """

    rules: Rules
    out: Path | None = None
    ruler: TwoPoints | TypedWidth | None = None
    style: Style | None = None
    paper: Paper = "A4"
    most_pieces: int | None = None
    room_l: float | None = None

    def look(self, photo_path: Path, frames: Sequence[Path] = ()) -> Done:
        """Look at a photo and write its record; the grower's word is carried over.

        Parameters
        ----------
        photo_path : Path
            The photo; of a lamp set, the main one.
        frames : sequence of Path
            The further photos of its lamp set. Without any, those that lie beside it
            by name (``NAME-lamp2.jpg``) or that its record names are taken.

        Returns
        -------
        Done
            With the new record. If the former one had a plan, so has this.

        Raises
        ------
        EyefindError
            If the photo cannot be used, the record belongs to another picture or a
            newer eyefind, or a file cannot be written.
        """
        return self._look(photo_path, read_photo(photo_path), frames)

    def plan(self, photo_path: Path, frames: Sequence[Path] = ()) -> Done:
        """Make the cut plan and put it into the record.

        Looks at the photo first when it has no sound record, a scale is given, or a
        frame of its lamp set is new.

        Parameters
        ----------
        photo_path : Path
            The photo.
        frames : sequence of Path
            As for `look`.

        Returns
        -------
        Done
            With the record that holds the plan.

        Raises
        ------
        EyefindError
            As for `look`.
        """
        return self._plan(photo_path, None, frames)

    def sheet(self, photo_path: Path, frames: Sequence[Path] = ()) -> Done:
        """Make the plan anew and write the sheet.

        Parameters
        ----------
        photo_path : Path
            The photo.
        frames : sequence of Path
            As for `look`.

        Returns
        -------
        Done
            With the files of the sheet.

        Raises
        ------
        EyefindError
            As for `look`.
        """
        photo = read_photo(photo_path)
        done = self._plan(photo_path, photo, frames)
        record = done.record
        words = standing(record.flags, record.decisions)
        folder = done.record_path.parent
        sheets = write_sheet(
            photo, in_force(record), words, folder, self.rules, self.paper
        )
        return replace(done, sheets=sheets)

    def answer(self, photo_path: Path, say: Callable[[Review], None]) -> Done:
        """Take the grower's word on flags, then renew the plan if there was one.

        Parameters
        ----------
        photo_path : Path
            The photo.
        say : callable
            Is given the review and says the words; each is on disk at once.

        Returns
        -------
        Done
            With the record that holds the words.

        Raises
        ------
        EyefindError
            As for `look`; also when there is no sound record yet.
        """
        path = record_path(photo_path, self.out)
        review = Review(path)
        former = review.record
        check_same_photo(former.photo, path, photo_path, _hash(photo_path))
        say(review)
        done = Done(photo_path, path, review.record)
        if former.plan is None or review.record.plan is not None:
            return done
        return self._with_plan(done, former.plan.style)

    def _look(
        self, photo_path: Path, photo: Photo, frames: Sequence[Path] = ()
    ) -> Done:
        path = record_path(photo_path, self.out)
        former = read_former(path, photo_path, photo.sha256)
        card = find_card(photo.rgb)
        card_outline = None if card is None else card.outline_px
        answers = see_whole(photo.rgb, None if card is None else card.scale.px_per_mm)
        clump = find_clump(photo.rgb, card_outline, answers)
        scale = self._scale(clump, card, former.scale)
        further = further_frames(photo_path, frames, former.frames)
        px_per_mm = (scale or guess_scale(clump, self.rules)).px_per_mm
        lamps = lay_together(photo, further, clump, card, px_per_mm, self.rules)
        seen = look_at(
            photo, scale, card_outline, self.rules, clump, answers, lamps.frames[1:]
        )
        remarks = check_photo(
            photo, card, seen.scale, seen.clump, seen.crown, self.rules
        )
        height, width = photo.rgb.shape[:2]
        code = None if card is None else read_code(photo.rgb, card)
        facts = PhotoFacts(
            photo.file, photo.sha256, height, width, photo.taken_at, code
        )
        with hold(path):
            # Read again: words may have been given while we looked.
            former = read_former(path, photo_path, photo.sha256)
            flags = carry_over(
                former.flags,
                former.decisions,
                seen.flags,
                seen.anatomy,
                seen.scale.px_per_mm,
            )
            told = [damage_remark(path, former, flags)] if former.damaged else []
            record = Record(
                facts,
                seen.scale,
                [*told, *remarks, *lamps.remarks, *seen.remarks],
                seen.anatomy,
                flags,
                former.decisions,
                frames=lamps.facts,
            )
            write_record(record, path)
        done = Done(photo_path, path, read_record(path))
        return done if former.style is None else self._with_plan(done, former.style)

    def _scale(
        self, clump: Mask, card: Card | None, former: Scale | None
    ) -> Scale | None:
        """Take the scale: the grower's word first, then the card; None for a guess."""
        if isinstance(self.ruler, TwoPoints):
            ruler = self.ruler
            return scale_from_points(ruler.a_rc_px, ruler.b_rc_px, ruler.length_mm)
        if isinstance(self.ruler, TypedWidth):
            return scale_from_width(clump, self.ruler.width_mm)
        if former is not None and former.source in ("two_points", "typed_width"):
            return former
        return None if card is None else card.scale

    def _plan(
        self, photo_path: Path, photo: Photo | None, frames: Sequence[Path]
    ) -> Done:
        path = record_path(photo_path, self.out)
        done = None
        if self.ruler is None and path.exists():
            try:
                record = read_record(path)
            except DamagedRecordError:
                pass
            else:
                sha256 = _hash(photo_path) if photo is None else photo.sha256
                check_same_photo(record.photo, path, photo_path, sha256)
                further = further_frames(photo_path, frames)
                if not lacks_frames(record.frames, further):
                    done = Done(photo_path, path, record)
        if done is None:
            done = self._look(photo_path, photo or read_photo(photo_path), frames)
        return self._with_plan(done, FIRST_STYLE)

    def _with_plan(self, done: Done, style: Style) -> Done:
        record, last = done.record, done.record.plan
        most_pieces, room_l = self.most_pieces, self.room_l
        if last is not None:
            style = last.style
            # A style that is asked for anew also ends the limits set before.
            if self.style is None:
                most_pieces = most_pieces or last.most_pieces
                room_l = room_l or last.room_l
        shown, words = in_force(record), standing(record.flags, record.decisions)
        plan = plan_of_all(
            shown,
            words,
            read_far(record, done.record_path.parent),
            self.style or style,
            self.rules,
            most_pieces,
            room_l,
        )
        plan = keep_moved(plan, last, shown, words, self.rules)
        with hold(done.record_path):
            record = put_plan(done.record_path, plan, record.decisions)
        return replace(done, record=record)


def _hash(photo_path: Path) -> str:
    try:
        with photo_path.open("rb") as file:
            return file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise PhotoError(
            f"{photo_path} cannot be opened: {error.strerror or error}.",
            "Check its name and that you may read it.",
        ) from error
