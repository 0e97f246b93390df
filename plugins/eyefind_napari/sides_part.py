"""The part of page Clumps that ties another side to the clump before."""

from qtpy.QtWidgets import QLineEdit, QWidget

from eyefind.desk.sides import Before, clump_before
from eyefind.sides import match, pair_words, read_pairs
from eyefind_napari.control import Control
from eyefind_napari.parts import button, column, label, write_keys


class SidesPart(QWidget):
    """Suggests which tuber of the shown photo is which of the clump before.

    Parameters
    ----------
    control : Control
        The queue and the clump that is shown.
    """

    def __init__(self, control: Control) -> None:
        super().__init__()
        self.control = control
        self.before: Before | None = None
        self.told = label("", "side_told")
        self.pairs = QLineEdit()
        self.pairs.setObjectName("pairs")
        self.pairs.setAccessibleName(
            "Which tuber is which, that of the clump before first"
        )
        self.pairs.setMinimumHeight(44)
        self.pairs.returnPressed.connect(self.match)
        self.yes = button("Other side of the clump before", "other_side", self.match)
        part = column(
            label("Another side of one clump", "head_sides", heading=True),
            self.told,
            self.pairs,
            self.yes,
        )
        self.setLayout(part.layout())
        control.clump_changed.connect(self.show_suggestion)
        control.settings_changed.connect(self.show_keys)
        self.show_keys()
        self.show_suggestion()

    def show_keys(self) -> None:
        """Write the keys on the button."""
        texts = {"other_side": "Other side of\nthe clump before"}
        write_keys({"other_side": self.yes}, texts, self.control.settings.keys)

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
        self.yes.setEnabled(before is not None)
        self.pairs.setVisible(before is not None)
        self.pairs.setText("" if before is None else pair_words(before.found.pairs))
        if before is None:
            self.told.setText("There is no clump before this one.")
            return
        how = "flipped over" if before.found.flipped else "turned"
        doubt = "" if before.found.sure else " Not sure: another turn fits as well."
        self.told.setText(
            f"If this is {before.name}, {how}: which of its tubers is which one here?"
            f"{doubt}"
        )

    def match(self) -> None:
        """Take the pairs as they stand: the shown photo is a side of that clump."""
        control, session, before = self.control, self.control.session, self.before
        if session is None or before is None:
            control.said.emit("There is no clump before this one.")
            return
        with control.telling():
            pairs = read_pairs(self.pairs.text(), before.main, before.side)
            match(before.path, session.review.path, pairs, session.by)
            now = f"is planned with {before.name}" if pairs else "stands alone again"
            control.said.emit(
                f"This photo {now}. To take it back, go to {before.name} and undo."
            )
