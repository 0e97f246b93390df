"""Colour and gloss of the picture before it is lit."""

from dataclasses import dataclass

from torch import Tensor


@dataclass(eq=False)
class Coat:
    """Colour and gloss of every pixel before it is lit.

    Attributes
    ----------
    colour : (H, W, 3) tensor
        sRGB, 0 to 1.
    gloss : (H, W) tensor
        0 dull to 1 wet.
    """

    colour: Tensor
    gloss: Tensor
