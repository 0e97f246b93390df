"""From a photo file to upright pixels, a millimetre scale and remarks."""

from eyefind.photo.card import Card, find_card, height_bias
from eyefind.photo.card_code import read_code
from eyefind.photo.card_layout import card_image
from eyefind.photo.checks import check_photo
from eyefind.photo.lamp_set import LampSet, frames_again, lay_together
from eyefind.photo.printing import write_card, write_numbered_cards
from eyefind.photo.reading import find_photos, read_photo
from eyefind.photo.scale import guess_scale, scale_from_points, scale_from_width
from eyefind.photo.set_names import further_frames, lacks_frames
from eyefind.photo.sets import PhotoSet, find_sets

__all__ = [
    "Card",
    "LampSet",
    "PhotoSet",
    "card_image",
    "check_photo",
    "find_card",
    "find_photos",
    "find_sets",
    "frames_again",
    "further_frames",
    "guess_scale",
    "height_bias",
    "lacks_frames",
    "lay_together",
    "read_code",
    "read_photo",
    "scale_from_points",
    "scale_from_width",
    "write_card",
    "write_numbered_cards",
]
