"""Last step: the annotated picture and the page of steps that a hand can follow.

The public names load Pillow and reportlab only when they are asked for, so that
`eyefind.sheet.style` stays free of both.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from eyefind.sheet.picture import draw_picture
    from eyefind.sheet.write import write_sheet

__all__ = ["draw_picture", "write_sheet"]


def __getattr__(name: str) -> object:
    if name == "draw_picture":
        from eyefind.sheet.picture import draw_picture

        return draw_picture
    if name == "write_sheet":
        from eyefind.sheet.write import write_sheet

        return write_sheet
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
