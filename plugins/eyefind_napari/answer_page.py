"""The page that asks: one flag, its reasons, three large buttons."""

from qtpy.QtWidgets import QPushButton, QVBoxLayout, QWidget

from eyefind.desk.session import Answer
from eyefind.desk.words import (
    HINTS,
    belongs_words,
    chance_words,
    place_words,
    plan_words,
    question,
    spoken,
    waiting_words,
)
from eyefind_napari.control import Control
from eyefind_napari.parts import (
    ChanceBar,
    Scrolled,
    button,
    column,
    grid,
    label,
    write_keys,
)
from eyefind_napari.voice import Voice, speech_library


class AnswerPage(QWidget):
    """One flag at a time; the three answers stay in place while the rest scrolls.

    Parameters
    ----------
    control : Control
        What is shown.
    hide : QPushButton
        The button that hides all marks; it belongs to the panel.
    """

    def __init__(self, control: Control, hide: QPushButton) -> None:
        super().__init__()
        self.control = control
        self.place = label("", "place")
        self.question = label("No clump is open", "question", heading=True)
        self.chance = label("", "chance")
        self.bar = ChanceBar()
        self.reasons = label("", "reasons")
        self.effect = label("", "effect")
        self.buttons: dict[str, QPushButton] = {
            "confirm": self._button("confirm", "Yes", "confirmed"),
            "reject": self._button("reject", "No", "rejected"),
            "not_sure": self._button("not_sure", "Not sure", "not_sure"),
            "back": button("Flag before", "back", lambda: self._step(-1)),
            "ahead": button("Flag after", "ahead", lambda: self._step(1)),
            "undo": button("Take back", "undo", control.undo),
            "redo": button("Bring back", "redo", control.redo),
            "accept_rest": button(
                "Accept the rest", "accept_rest", control.accept_rest
            ),
            "hide": hide,
            "next_clump": button("Next clump", "next_clump", control.next_clump),
        }
        self._texts = {name: made.text() for name, made in self.buttons.items()}
        answers = [self.buttons[name] for name in ("confirm", "reject", "not_sure")]
        turns = [self.buttons[name] for name in ("back", "ahead", "undo", "redo")]
        page = column(
            self.question,
            self.chance,
            self.bar,
            self.place,
            self.effect,
            self.reasons,
            grid(turns, 2),
            self.buttons["accept_rest"],
            self.buttons["hide"],
            self.buttons["next_clump"],
        )
        self.area = Scrolled(page, "area_answer")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.area, 1)
        layout.addWidget(grid(answers, 3))
        control.flag_changed.connect(self.show_flag)
        control.clump_changed.connect(self.show_flag)
        control.plan_changed.connect(self.show_effect)
        control.settings_changed.connect(self.show_keys)
        self.voice = Voice(speech_library())
        self.show_keys()
        self._enable(False)  # There is no clump yet.

    def _enable(self, on: bool) -> None:
        for name in ("confirm", "reject", "not_sure", "back", "ahead"):
            self.buttons[name].setEnabled(on)

    def _button(self, name: str, text: str, says: Answer) -> QPushButton:
        return button(text, name, lambda: self.control.answer(says), answer=True)

    def show_keys(self) -> None:
        """Write the keys on the buttons."""
        texts = {**self._texts, "accept_rest": self._rest_text()}
        write_keys(self.buttons, texts, self.control.settings.keys)

    def show_flag(self) -> None:
        """Show the flag that the session is at."""
        session = self.control.session
        flag = session.current if session else None
        self._enable(flag is not None)
        if session is None or flag is None:
            self._show_none()
            return
        says = session.words.get(flag.id)
        count = len(session.flags)
        self.place.setText(place_words(session.place, count, says))
        self.question.setText(question(flag))
        self.chance.setText(chance_words(flag.likelihood).capitalize() + ".")
        self.bar.show_chance(flag.likelihood)
        note = session.note_on(flag.id)
        reasons = [f"\N{BULLET} {reason}" for reason in flag.reasons]
        lines = [belongs_words(flag, session.record.scale), *reasons, HINTS[flag.kind]]
        self.reasons.setText(
            "\n".join([*lines, *([f"Your note: {note}"] * bool(note))])
        )
        self.show_effect()
        self.show_keys()
        text = spoken(flag, session.place, count, says)
        self.question.setAccessibleName(text)
        if self.control.settings.aloud:
            self.voice.say(text)

    def show_effect(self) -> None:
        """Say what the plan would do, and how it stands."""
        session = self.control.session
        if session is None:
            self.effect.setText("")
            return
        lines = [self.control.effect] if self.control.effect else []
        if self.control.plan is not None:
            lines.append(f"Plan: {plan_words(self.control.plan)}")
        elif session.left_to_plan:
            lines.append(waiting_words(session.left_to_plan))
        if session.flags and not session.open_flags:
            lines.append("Every flag is answered. Save the sheet, then the next clump.")
        self.effect.setText("\n".join(lines))

    def _show_none(self) -> None:
        session = self.control.session
        self.place.setText("")
        self.question.setText("No flag on this clump" if session else "Please wait ...")
        self.chance.setText(
            "If you see an eye, point at it: page 'Put right'." if session else ""
        )
        self.bar.show_chance(0.0)
        self.reasons.setText("")
        self.show_effect()

    def _rest_text(self) -> str:
        percent = self.control.settings.accept_from
        session = self.control.session
        count = len(session.rest_above(percent / 100)) if session else 0
        return f"Accept the rest from {percent} %: {count}"

    def _step(self, by: int) -> None:
        self.control.do(lambda session: session.step(by))
