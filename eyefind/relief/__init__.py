"""The lie of the clump's surface, from photographs that differ by their lamp alone."""

from eyefind.relief.colour import even_colour
from eyefind.relief.relief import Relief, make_relief
from eyefind.relief.uses import bumps, in_bytes, shade

__all__ = ["Relief", "bumps", "even_colour", "in_bytes", "make_relief", "shade"]
