"""Pictures of a clump without anything on them: for tests of what is around them."""

from PIL import Image

from eyefind.sheet.picture import Drawn, Pictures


def blank_pictures(aspect: float = 1.4, more: bool = False) -> Pictures:
    """Return pictures of this shape; with `more` also the pieces apart and another."""

    def draw(_: object, width_pt: float = 0.0) -> Drawn:
        return Drawn(Image.new("RGB", (round(100 * aspect), 100), "white"))

    return Pictures(aspect, 1.5, draw, draw, *([draw, draw] if more else []))
