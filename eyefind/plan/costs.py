"""What cutting costs, in plants: hands, length, wound, the risk of a tight place."""

from dataclasses import dataclass

import numpy as np

from eyefind.plan.worth import Floats
from eyefind.rules import Rules


@dataclass(frozen=True, eq=False)
class Costs:
    """The costs of cuts into one crown.

    Attributes
    ----------
    rules : Rules
        The rules of the trade.
    px_per_mm : float
        Scale.
    radius_mm : float
        Radius of a disc as large as the crown; it is taken to be as deep as wide.
    """

    rules: Rules
    px_per_mm: float
    radius_mm: float

    def of_strokes(self, length_px: Floats, clearance_px: Floats) -> Floats:
        """Return what strokes from the rim inwards cost, but for the hands.

        Parameters
        ----------
        length_px : (M,) array
            Their lengths.
        clearance_px : (M,) array
            Room beyond the margins at the tightest place of each.

        Returns
        -------
        (M,) array
            In plants.
        """
        length_cm = length_px / self.px_per_mm / 10
        roomy_px = self.rules.value("roomy_mm") * self.px_per_mm
        tight = np.clip(1 - clearance_px / roomy_px, 0, 1)
        cost: Floats = (
            self.rules.value("length_cost") * length_cm
            + self.rules.value("wound_cost") * 2 * self._face_cm2(length_cm)
            + self.rules.value("tight_cost") * tight
        )
        return cost

    def of_hands(self, pieces: int) -> float:
        """Return what the cuts cost the hands: one fewer than there are pieces."""
        return self.rules.value("hands_cost") * (pieces - 1)

    def _face_cm2(self, length_cm: Floats) -> Floats:
        """Return the area of a disc down to a depth: a circular segment."""
        radius = max(self.radius_mm / 10, 1e-6)
        height = np.clip(length_cm, 0, 2 * radius)
        rest = radius - height
        chord = np.sqrt(np.maximum(2 * radius * height - height**2, 0))
        area: Floats = radius**2 * np.arccos(rest / radius) - rest * chord
        return area
