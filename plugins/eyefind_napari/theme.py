"""Colours and sizes of the window: their only home.

Contrast of text is at least 7:1 (WCAG 2.2, 1.4.6) and that of edges and focus at least
3:1 (1.4.11); a test computes both from `Palette.text_pairs` and `Palette.edge_pairs`.
Nothing is told by colour alone.
"""

from dataclasses import dataclass
from typing import Final

from eyefind.desk.settings import Scheme
from eyefind.sheet.style import Colour

TEXT_PT: Final = 16.0
"""Least size of text; everything else is a multiple of the size in use."""
TARGET_PX: Final = 44
"""Least side of whatever is clicked on (WCAG 2.2, 2.5.5)."""
NAPARI_TITLE_PX: Final = 20
"""napari leaves a dock's title so much room whatever its height; we leave the rest."""
HEADING_PT: Final = 6.4
"""A heading is so much larger than the text: what is large need not grow twice."""
MOST_PAD_PX: Final = 10
"""Room around the text of a button: what large text needs must not grow twice."""
FOCUS_PX: Final = 4
EDGE_PX: Final = 2


@dataclass(frozen=True)
class Palette:
    """Colours of one scheme, sRGB 0 to 255.

    Attributes
    ----------
    ground, ink : Colour
        Panels and their text.
    button, button_ink, edge : Colour
        Buttons, their text and their border.
    chosen, chosen_ink : Colour
        What is switched on or selected.
    answer, answer_ink : Colour
        The three buttons that answer.
    focus : Colour
        Ring around what has the keyboard.
    bar : Colour
        Filled part of a bar.
    """

    ground: Colour
    ink: Colour
    button: Colour
    button_ink: Colour
    edge: Colour
    chosen: Colour
    chosen_ink: Colour
    answer: Colour
    answer_ink: Colour
    focus: Colour
    bar: Colour

    @property
    def text_pairs(self) -> list[tuple[Colour, Colour]]:
        """All (ink, paper) of text."""
        return [
            (self.ink, self.ground),
            (self.button_ink, self.button),
            (self.chosen_ink, self.chosen),
            (self.answer_ink, self.answer),
        ]

    @property
    def edge_pairs(self) -> list[tuple[Colour, Colour]]:
        """All (line, what it lies on) of borders, bars and the focus ring."""
        return [
            (self.edge, self.ground),
            (self.bar, self.ground),
            (self.focus, self.ground),
            (self.focus, self.button),
            (self.focus, self.answer),
            (self.edge, self.button),
        ]


PALETTES: Final[dict[Scheme, Palette]] = {
    "dark": Palette(
        ground=(18, 22, 26),
        ink=(255, 255, 255),
        button=(44, 52, 60),
        button_ink=(255, 255, 255),
        edge=(176, 186, 196),
        chosen=(240, 228, 66),
        chosen_ink=(0, 0, 0),
        answer=(0, 60, 96),
        answer_ink=(255, 255, 255),
        focus=(255, 214, 0),
        bar=(86, 180, 233),
    ),
    "light": Palette(
        ground=(255, 255, 252),
        ink=(0, 0, 0),
        button=(232, 234, 230),
        button_ink=(0, 0, 0),
        edge=(70, 76, 82),
        chosen=(0, 64, 110),
        chosen_ink=(255, 255, 255),
        answer=(205, 228, 244),
        answer_ink=(0, 0, 0),
        focus=(176, 0, 32),
        bar=(0, 90, 140),
    ),
}


def css(colour: Colour) -> str:
    """Return a colour as Qt's style sheets write it."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def frame_sheet(percent: int) -> str:
    """Return the style sheet of what napari's window has around our widgets.

    Parameters
    ----------
    percent : int
        Size of the text, percent of `TEXT_PT`.

    Returns
    -------
    str
        To follow napari's own style sheet.
    """
    size = TEXT_PT * percent / 100
    return f"""
    QMenuBar, QMenu, QStatusBar, QStatusBar QWidget, QToolTip, QDialog, QDialog QWidget,
    #QtCustomTitleBar, #QtCustomTitleBar > QLabel, #QtActivityButton {{
        font-size: {size:.1f}pt;
    }}
    QMenuBar::item, QMenu::item {{ padding: {size / 2:.0f}px; }}
    QTabBar, QTabBar::tab {{ font-size: {size:.1f}pt; }}
    QTabBar::tab {{ min-height: {TARGET_PX}px; padding: 0px {size:.0f}px; }}
    QStatusBar, QStatusBar QLabel {{ min-height: {2 * size:.0f}px; }}
    #QtCustomTitleBar {{ padding: 0px; min-height: {title_px(percent)}px; }}
    #QtCustomTitleBar[vertical="True"] {{
        min-height: 0px; min-width: {title_px(percent)}px;
    }}
    #QtCustomTitleBar > QLabel {{ min-height: {2 * size:.0f}px; }}
    #QtCustomTitleBar > QPushButton {{
        padding: 0px;
        min-width: {TARGET_PX}px; max-width: {TARGET_PX}px;
        min-height: {TARGET_PX}px; max-height: {TARGET_PX}px;
    }}
    """


def title_px(percent: int) -> int:
    """Return the height of the titles of docks at a size of the text, px."""
    return max(TARGET_PX + 4, round(2 * TEXT_PT * percent / 100))


def style_sheet(scheme: Scheme, percent: int) -> str:
    """Return the style sheet of our widgets.

    Parameters
    ----------
    scheme : str
        ``"dark"`` or ``"light"``.
    percent : int
        Size of the text, percent of `TEXT_PT`.

    Returns
    -------
    str
        For ``QWidget.setStyleSheet``.
    """
    p = PALETTES[scheme]
    size = TEXT_PT * percent / 100
    pad = min(round(size / 2), MOST_PAD_PX)
    # A button gets its height by padding: a least height in a style sheet would let
    # the layout squeeze it down to that.
    return f"""
    QWidget {{
        background: {css(p.ground)}; color: {css(p.ink)}; font-size: {size:.1f}pt;
    }}
    QLabel[heading="true"] {{
        font-size: {size + HEADING_PT:.1f}pt; font-weight: bold;
    }}
    QRadioButton, QLineEdit, QSpinBox, QListWidget::item {{
        min-height: {TARGET_PX}px;
    }}
    QPushButton {{
        background: {css(p.button)}; color: {css(p.button_ink)};
        border: {EDGE_PX}px solid {css(p.edge)}; border-radius: {pad}px;
        padding: {pad}px; text-align: center;
    }}
    QPushButton:disabled {{ border-style: dashed; }}
    QPushButton[answer="true"] {{
        background: {css(p.answer)}; color: {css(p.answer_ink)}; font-weight: bold;
    }}
    QPushButton:checked {{ background: {css(p.chosen)}; color: {css(p.chosen_ink)}; }}
    QPushButton:focus, QLineEdit:focus, QSpinBox:focus, QListWidget:focus,
    QRadioButton:focus, QScrollArea:focus {{
        border: {FOCUS_PX}px solid {css(p.focus)};
    }}
    QRadioButton {{
        border: {FOCUS_PX}px solid transparent; spacing: {pad}px;
    }}
    QRadioButton::indicator {{
        width: {size * 1.2:.0f}px; height: {size * 1.2:.0f}px;
        border: {EDGE_PX}px solid {css(p.edge)}; background: {css(p.ground)};
    }}
    QRadioButton::indicator {{ border-radius: {size * 0.6:.0f}px; }}
    QRadioButton::indicator:checked {{
        background: {css(p.chosen)}; border: {EDGE_PX * 2}px solid {css(p.ink)};
    }}
    QRadioButton:checked {{ font-weight: bold; }}
    QLineEdit, QSpinBox, QListWidget {{
        background: {css(p.button)}; color: {css(p.button_ink)};
        border: {EDGE_PX}px solid {css(p.edge)}; padding: {pad}px;
        placeholder-text-color: {css(p.button_ink)};
        selection-background-color: {css(p.chosen)};
        selection-color: {css(p.chosen_ink)};
    }}
    QSpinBox {{ padding-right: {TARGET_PX}px; }}
    QSpinBox::up-button, QSpinBox::down-button {{ width: {TARGET_PX}px; }}
    QSpinBox::up-arrow, QSpinBox::down-arrow {{
        width: {size:.0f}px; height: {size:.0f}px;
    }}
    QProgressBar {{
        background: {css(p.ground)}; border: {EDGE_PX}px solid {css(p.edge)};
        min-height: {2 * pad}px;
    }}
    QProgressBar::chunk {{ background: {css(p.bar)}; }}
    QListWidget::item:selected {{
        background: {css(p.chosen)}; color: {css(p.chosen_ink)};
    }}
    QScrollBar:vertical {{
        /* napari allows 13 px; its arrows would take the room of the handle. */
        min-width: {TARGET_PX}px; max-width: {TARGET_PX}px; margin: 0px;
        background: {css(p.ground)};
    }}
    QScrollBar::add-line:vertical, QScrollBar::sub-line:vertical {{ height: 0px; }}
    QScrollBar::handle:vertical {{
        background: {css(p.edge)}; min-height: {TARGET_PX}px; border-radius: {pad}px;
    }}
    """
