"""What to say about a photo before anyone trusts what is found in it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Photo, Pixels, Remark, Scale
from eyefind.photo.card import Card
from eyefind.photo.sharpness import rough_blur_mm
from eyefind.reduce import reduced, size_at
from eyefind.rules import Rules

CODES = (
    "no_scale",
    "too_small",
    "cut_off",
    "blur",
    "dark",
    "bright",
    "glare",
    "tilt",
    "soil",
)
"""Every code that `check_photo` gives, in the order in which it gives them."""

WORKING_PX = 1000
"""Long side at which lightness and colour are judged."""
CLIPPED = 250
"""A pixel is clipped when red, green and blue all reach this."""
TOUCH_MM = 5.0
"""A thin root may leave the picture; what is wider on the edge is cut off."""
LEAST_BLUR_PX = 1.5
"""Without a card less cannot be told from too few pixels, which is another remark."""


@dataclass(frozen=True, eq=False)
class _Given:
    """All that the single checks look at."""

    rgb: Pixels
    card: Card | None
    scale: Scale
    clump: Mask
    crown: Mask | None
    lab: NDArray[np.float32]
    """(h, w, 3) CIELAB of the photo at working size."""
    inside: Mask
    """(h, w) the clump at working size."""
    rules: Rules


def check_photo(
    photo: Photo,
    card: Card | None,
    scale: Scale,
    clump: Mask,
    crown: Mask | None,
    rules: Rules,
) -> list[Remark]:
    """Check a photo of a clump.

    Parameters
    ----------
    photo : Photo
        The photo.
    card : Card or None
        The bench card, if it was found.
    scale : Scale
        Its scale, from the card or not.
    clump : (H, W) bool array
        Mask of the clump at the photo's size.
    crown : (H, W) bool array or None
        Mask of the crown, if it was made out.
    rules : Rules
        Thresholds.

    Returns
    -------
    list of Remark
        Codes of `CODES`, each at most once; empty for a good photo.
    """
    factor = min(1.0, WORKING_PX / max(clump.shape))
    small = reduced(photo.rgb, size_at(clump.shape, factor))
    inside = cv2.resize(
        clump.view(np.uint8), small.shape[1::-1], interpolation=cv2.INTER_NEAREST
    )
    unit = small.astype(np.float32) / 255
    lab = np.asarray(cv2.cvtColor(unit, cv2.COLOR_RGB2LAB), dtype=np.float32)
    given = _Given(photo.rgb, card, scale, clump, crown, lab, inside > 0, rules)
    checks = (_scale, _size, _frame, _blur, _light, _glare, _tilt, _soil)
    return [remark for check in checks if (remark := check(given)) is not None]


def _scale(given: _Given) -> Remark | None:
    scale = given.scale
    if not scale.is_unsure:
        return None
    how = "the looks" if scale.source == "looks" else "the usual size"
    return Remark(
        "no_scale",
        "No bench card was found and no length was given: all millimetres are a "
        f"guess from {how} of a clump (off by {100 * scale.relative_sd:.0f} % or so).",
        "Lay the bench card beside the clump, flat and well in view, or give a length.",
    )


def _size(given: _Given) -> Remark | None:
    least = given.rules.value("least_px_per_mm")
    if given.scale.px_per_mm >= least:
        return None
    guessed = " (by a guessed scale)" if given.scale.is_unsure else ""
    return Remark(
        "too_small",
        f"The clump is small in the photo: {given.scale.px_per_mm:.1f} pixels a "
        f"millimetre{guessed}; under {least:g} an eye cannot be seen.",
        "Go nearer until the clump fills the picture; "
        f"{given.rules.value('good_px_per_mm'):g} pixels a millimetre are good.",
    )


def _frame(given: _Given) -> Remark | None:
    edges = {
        "top": given.clump[0],
        "bottom": given.clump[-1],
        "left": given.clump[:, 0],
        "right": given.clump[:, -1],
    }
    least_px = TOUCH_MM * given.scale.px_per_mm
    sides = [side for side, edge in edges.items() if edge.sum() > least_px]
    if not sides:
        return None
    return Remark(
        "cut_off",
        f"The clump runs out of the picture ({', '.join(sides)}).",
        "Go back a little, so that bench shows all round the clump.",
    )


def measure_blur(
    rgb: Pixels, card: Card | None, clump: Mask, px_per_mm: float
) -> tuple[float, str]:
    """Measure the blur of a photo on the card, else roughly on the clump.

    Returns
    -------
    sigma_mm : float
        Width of the blur; 0 where it cannot be told from too few pixels, NaN where
        nothing could be measured.
    how : str
        How it was measured, in words.
    """
    if card is not None and np.isfinite(card.blur_sigma_mm):
        return card.blur_sigma_mm, "measured on the card"
    sigma_mm = rough_blur_mm(rgb, clump, px_per_mm)
    seen = not sigma_mm * px_per_mm < LEAST_BLUR_PX
    return sigma_mm if seen else 0.0, "roughly, from the clump's own edges"


def _blur(given: _Given) -> Remark | None:
    sigma_mm, how = measure_blur(
        given.rgb, given.card, given.clump, given.scale.px_per_mm
    )
    # A NaN, when nothing could be measured, is no blur.
    if not sigma_mm > given.rules.value("blur_warn_mm"):
        return None
    advice = (
        "Rest the phone on something, tap on the crown to focus, give more light, and "
        "wipe the lens."
    )
    text = f"The photo is blurred by {sigma_mm:.1f} mm ({how}): small eyes may not show"
    if sigma_mm > given.rules.value("blur_again_mm"):
        text = f"The photo is blurred by {sigma_mm:.1f} mm ({how}): eyes are lost in it"
        advice = f"Take the photo again. {advice}"
    return Remark("blur", f"{text}.", advice)


def _light(given: _Given) -> Remark | None:
    if not given.inside.any():
        return None
    lightness = float(np.median(given.lab[given.inside, 0]))
    if lightness < given.rules.value("dark_lightness"):
        return Remark(
            "dark",
            f"The clump is very dark in the photo (lightness {lightness:.0f} of 100).",
            "Bring the lamp nearer, or tap on the crown and raise the exposure.",
        )
    if lightness > given.rules.value("bright_lightness"):
        return Remark(
            "bright",
            f"The clump is washed out (lightness {lightness:.0f} of 100).",
            "Move the lamp away, or tap on the crown and lower the exposure.",
        )
    return None


def _glare(given: _Given) -> Remark | None:
    places = (("clump", given.clump), ("crown", given.crown))
    for name, mask in places:
        if mask is None or not mask.any():
            continue
        left, top, width, height = cv2.boundingRect(mask.view(np.uint8))
        box = np.s_[top : top + height, left : left + width]
        clipped = cv2.inRange(given.rgb[box], (CLIPPED,) * 3, (255,) * 3) > 0
        inside = mask[box]
        share = np.count_nonzero(clipped & inside) / np.count_nonzero(inside)
        if share > given.rules.value(f"glare_{name}_fraction"):
            return Remark(
                "glare",
                f"{100 * share:.1f} % of the {name} is pure white glare.",
                "Let the skin dry or blot it, and move the lamp lower and to the side.",
            )
    return None


def _tilt(given: _Given) -> Remark | None:
    most = given.rules.value("tilt_warn_deg")
    if given.card is None or given.card.tilt_deg <= most:
        return None
    return Remark(
        "tilt",
        f"The card is seen at a slant ({given.card.tilt_deg:.0f} degrees): lengths "
        "may read wrong.",
        "Hold the phone level, straight above card and clump.",
    )


def _soil(given: _Given) -> Remark | None:
    """Compare the lighter quarter of the clump with white.

    White is the card's, or without one the photo's lightest hundredth, which on a
    dark bench may be the clump itself: then soil goes unseen. Dark is not always
    soil (cultivar, wet skin), so that the remark only asks.
    """
    if not given.inside.any():
        return None
    light = _luminance(given.lab[..., 0])
    white = float(np.quantile(light, 0.99))
    if given.card is not None:
        corners = given.card.outline_px[:, ::-1] * (light.shape[0] / len(given.rgb))
        on_card = np.zeros(light.shape, np.uint8)
        cv2.fillConvexPoly(on_card, corners.round().astype(np.int32), 1)
        if on_card.any():
            white = float(np.quantile(light[on_card > 0], 0.9))
    share = float(np.quantile(light[given.inside], 0.75)) / max(white, 1e-3)
    if share >= given.rules.value("soil_reflectance"):
        return None
    return Remark(
        "soil",
        f"Most of the clump is as dark as soil ({100 * share:.0f} % of white). Eyes "
        "under soil cannot be seen.",
        "If soil covers the crown, brush or rinse it off gently and photograph it "
        "again within the hour; if the skin is this dark, give more light.",
    )


def _luminance(lightness: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return linear light, 0 to 1, of CIELAB lightness (CIE 15)."""
    bright = ((lightness + 16) / 116) ** 3
    return np.where(lightness > 8, bright, lightness / 903.3)
