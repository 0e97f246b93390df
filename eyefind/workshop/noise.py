"""Smooth random fields for skins, bark and benches."""

import numpy as np
import torch
from torch import Tensor

LATTICE = 32
"""Cells along each side of the random lattice; the noise repeats after these."""


class Noise:
    """Value noise in space, smooth to the first derivative, repeating.

    Random numbers are drawn by numpy on the CPU, so every device sees the same
    field.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of the lattice.
    device : str
        Where the field is evaluated.
    """

    def __init__(self, rng: np.random.Generator, device: str) -> None:
        block = rng.uniform(-1, 1, (LATTICE,) * 3).astype(np.float32)
        wrapped = np.pad(block, ((0, 1),) * 3, mode="wrap")
        self._lattice = torch.from_numpy(wrapped).to(device)[None, None]
        table = rng.uniform(0, 1, (64, 64, 4)).astype(np.float32)
        self._table = torch.from_numpy(table).to(device)

    def at(self, place: Tensor) -> Tensor:
        """Evaluate at `place`.

        Parameters
        ----------
        place : (..., 3) tensor
            Place in lattice cells.

        Returns
        -------
        (...) tensor
            -1 to 1.
        """
        cell = torch.floor(place)
        part = place - cell
        smooth = cell.remainder(LATTICE) + part * part * (3 - 2 * part)
        grid = (smooth * (2 / LATTICE) - 1).reshape(1, 1, 1, -1, 3)
        values = torch.nn.functional.grid_sample(
            self._lattice, grid, mode="bilinear", align_corners=True
        )
        return values.reshape(place.shape[:-1])

    def fbm(self, place: Tensor, octaves: int = 4, gain: float = 0.5) -> Tensor:
        """Sum `octaves` of noise, each twice as fine and `gain` times as strong."""
        total = torch.zeros_like(place[..., 0])
        weight, norm = 1.0, 0.0
        for octave in range(octaves):
            total += weight * self.at(place * 2.0**octave + 7.3 * octave)
            norm += weight
            weight *= gain
        return total / norm

    def ridged(self, place: Tensor, octaves: int = 3) -> Tensor:
        """Return creased noise: 1 along sharp ridges, falling off to 0."""
        total = torch.zeros_like(place[..., 0])
        weight, norm = 1.0, 0.0
        for octave in range(octaves):
            fold = 1 - self.at(place * 2.0**octave + 3.1 * octave).abs()
            total += weight * fold * fold
            norm += weight
            weight *= 0.5
        return total / norm

    def spots(
        self, across: Tensor, along: Tensor, share: Tensor | float, aspect: float = 1.0
    ) -> Tensor:
        """Scatter round or elongated spots, one a unit cell at most.

        Parameters
        ----------
        across, along : (...) tensors
            Place in cells.
        share : tensor or float
            Share of cells that hold a spot.
        aspect : float
            Length across over length along.

        Returns
        -------
        (...) tensor
            1 in a spot's middle, falling to 0; spots differ in size.
        """
        best = torch.zeros_like(across)
        base_a, base_b = torch.floor(across), torch.floor(along)
        for shift_a in (-1, 0, 1):
            for shift_b in (-1, 0, 1):
                cell_a, cell_b = base_a + shift_a, base_b + shift_b
                chance = self._table[
                    cell_a.remainder(64).long(), cell_b.remainder(64).long()
                ]
                size = 0.10 + 0.22 * chance[..., 2]
                gap_a = (across - cell_a - chance[..., 0]) / aspect
                gap_b = along - cell_b - chance[..., 1]
                spot = torch.exp(-(gap_a**2 + gap_b**2) / (size * size))
                best = torch.maximum(best, spot * (chance[..., 3] < share))
        return best


def smoothstep(low: float, high: float, value: Tensor) -> Tensor:
    """Rise smoothly from 0 at `low` to 1 at `high`."""
    part = ((value - low) / (high - low)).clamp(0, 1)
    return part * part * (3 - 2 * part)
