"""The part of page Clumps that ties another side to the clump before."""

from pathlib import Path

from qtpy.QtWidgets import QLineEdit, QWidget

from eyefind.desk.keys import keys_in_use
from eyefind.desk.sides import Before, clump_before
from eyefind.sides import match, pair_words, read_pairs
from eyefind_napari.control import Control
from eyefind_napari.parts import button, column, label, write_keys
from eyefind_napari.sides_window import SidesWindow

NO_CLUMP = "There is no clump before this one."


class SidesPart(QWidget):
    """Suggests which tuber of the shown photo is which of the clump before.

    A sure suggestion is taken at once. One that is not sure opens both photos and is
    taken only when it is said with both in sight, or after its pairs were put right.

    Parameters
    ----------
    control : Control
        The queue and the clump that is shown.
    """

    def __init__(self, control: Control) -> None:
        super().__init__()
        self.control = control
        self.before: Before | None = None
        self.was_asked = False
        self.told = label("", "side_told")
        self.pairs = QLineEdit()
        self.pairs.setObjectName("pairs")
        self.pairs.setAccessibleName(
            "Which tuber is which, that of the clump before first"
        )
        self.pairs.setMinimumHeight(44)
        self.pairs.returnPressed.connect(self.match)
        self.pairs.textChanged.connect(self._forget)
        self.both = SidesWindow(self, self.pairs, self.match)
        self.both.rejected.connect(self._forget)
        control.said.connect(self.both.said.setText)
        self.seen = button("See both sides", "see_sides", self.see)
        self.yes = button("Other side of the clump before", "other_side", self.match)
        part = column(
            label("Another side of one clump", "head_sides", heading=True),
            self.told,
            self.seen,
            self.pairs,
            self.yes,
        )
        self.setLayout(part.layout())
        control.clump_changed.connect(self.show_suggestion)
        control.settings_changed.connect(self.show_keys)
        self.show_keys()
        self.show_suggestion()

    def show_keys(self) -> None:
        """Write the keys on the buttons."""
        own = self.control.settings.keys
        buttons = {"other_side": self.yes, "see_sides": self.seen}
        texts = {
            "other_side": "Other side of\nthe clump before",
            "see_sides": "See both sides",
        }
        write_keys(buttons, texts, own)
        yes = {"other_side": "Yes, keep these pairs"}
        write_keys({"other_side": self.both.yes}, yes, own)
        self.both.bind(keys_in_use(own)["other_side"])

    def show_suggestion(self) -> None:
        """Say which clump is meant and which tuber is which, to be put right."""
        control, session = self.control, self.control.session
        self.before = None
        if session is not None:
            with control.telling():
                self.before = clump_before(
                    control.entries, control.index, control.job.out, session.record
                )
        before = self.before
        self.both.hide()
        for made in (self.yes, self.seen):
            made.setEnabled(before is not None)
        self.pairs.setVisible(before is not None)
        self.pairs.setText("" if before is None else pair_words(before.found.pairs))
        self.was_asked = False
        self.told.setText(NO_CLUMP if before is None else _question(before))

    def see(self) -> None:
        """Show both photos, their tubers named."""
        session, before = self.control.session, self.before
        if session is None or before is None:
            self.control.said.emit(NO_CLUMP)
            return
        with self.control.telling():
            picture = before.picture(session.ready.photo)
            here = Path(session.record.photo.file).stem
            self.both.show_both(picture, before.name, here, _question(before))
            self.was_asked = True

    def match(self) -> None:
        """Take the pairs as they stand: the shown photo is a side of that clump."""
        control, session, before = self.control, self.control.session, self.before
        if session is None or before is None:
            control.said.emit(NO_CLUMP)
            return
        with control.telling():
            pairs = read_pairs(
                self.pairs.text(), before.main.anatomy, before.side.anatomy
            )
            if self._guessed(before, pairs):
                self.see()
                control.said.emit(
                    "Not sure which tuber is which, or whether it is one clump. Look "
                    "at both photos. Press it once more to keep these pairs."
                )
                return
            match(before.path, session.review.path, pairs, session.by)
            self.both.hide()
            now = f"is planned with {before.name}" if pairs else "stands alone again"
            control.said.emit(
                f"This photo {now}. To take it back, go to {before.name} and undo."
            )

    def _guessed(self, before: Before, pairs: dict[str, str]) -> bool:
        """Whether these pairs are our guess, and the grower was not asked about it."""
        return not (before.found.sure or self.was_asked) and pairs == before.found.pairs

    def _forget(self) -> None:
        """Ask anew: the pairs were put right, or nothing was kept."""
        self.was_asked = False


def _question(before: Before) -> str:
    how = "flipped over" if before.found.flipped else "turned"
    doubt = "" if before.found.sure else " Not sure: another turn fits as well."
    return (
        f"If this is {before.name}, {how}: which of its tubers is which one here?"
        f"{doubt}"
    )
