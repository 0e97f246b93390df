"""What the finders of all kinds hand over: places with named measures."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eyefind.data import Kind, Points

Values = NDArray[np.float64]
Found = tuple[Points, float, str | None, Points | None, dict[str, float]]
"""One candidate: place_rc, size_mm, belongs_to, outline_px, measures."""


@dataclass(frozen=True, eq=False)
class Candidates:
    """Candidates of one kind, not yet weighed.

    Attributes
    ----------
    kind : str
        What they may be.
    place_rc : (N, 2) array
        Places in px of the full photo.
    size_mm : (N,) array
        Diameter of an eye, length of anything else.
    belongs_to : list of (str or None)
        Id of the tuber or stem of each.
    outline_px : list of ((M, 2) array or None)
        Outline of each, where the thing has one.
    measures : dict of str to (N,) array
        What was measured, by name. A learned finder adds its own names.
    """

    kind: Kind
    place_rc: Points
    size_mm: Values
    belongs_to: list[str | None]
    outline_px: list[Points | None]
    measures: dict[str, Values]

    def __len__(self) -> int:
        """Return the number of candidates."""
        return len(self.place_rc)

    def pick(self, index: NDArray[np.intp]) -> "Candidates":
        """Return the candidates at `index`, in its order."""
        return Candidates(
            self.kind,
            self.place_rc[index],
            self.size_mm[index],
            [self.belongs_to[i] for i in index],
            [self.outline_px[i] for i in index],
            {name: values[index] for name, values in self.measures.items()},
        )


def gathered(
    kind: Kind,
    rows: list[Found],
    names: tuple[str, ...],
) -> Candidates:
    """Put single candidates together.

    Parameters
    ----------
    kind : str
        Their kind.
    rows : list of Found
        One a candidate.
    names : tuple of str
        Names of the measures, needed when there are no rows.

    Returns
    -------
    Candidates
        In the order of `rows`.
    """
    return Candidates(
        kind,
        np.array([row[0] for row in rows], float).reshape(-1, 2),
        np.array([row[1] for row in rows], float),
        [row[2] for row in rows],
        [row[3] for row in rows],
        {name: np.array([row[4][name] for row in rows], float) for name in names},
    )
