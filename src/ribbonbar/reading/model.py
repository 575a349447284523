"""What the reading hands on: per position, the ribbons that the picture still allows and how sure each is."""

from dataclasses import dataclass

import numpy as np

from ribbonbar.reading.light import Light


@dataclass(frozen=True)
class RibbonCandidate:
    """One specification ribbon, one way round. ``award`` and ``ribbon`` name it; ``probability`` is calibrated."""

    award: str
    ribbon: str
    reversed: bool
    probability: float


@dataclass(frozen=True)
class EmblemSeen:
    """Something fixed on a ribbon. ``x`` and ``y`` are fractions of it from its top left, ``size_mm`` its width."""

    kind: str
    x: float
    y: float
    size_mm: float


@dataclass(frozen=True)
class Reading:
    """One ribbon as read. ``span`` is its left and right edge as fractions of the row's width.

    ``seen`` is the profile with the light taken out, (N, 3) CIE L*a*b*. ``pixels_per_stripe`` is the width in photo
    pixels of the narrowest stripe of the best candidate. ``margin`` is the best candidate's log evidence over the free
    model's: below zero, any few stripes explain the ribbon better. ``free`` is the free model's own:
    near its highest, one plain colour explains all there is. ``stripes`` is how many of the best candidate are seen,
    ``covered`` the share of the ribbon's width where something stands out from the cloth: an emblem, or writing.
    """

    span: tuple[float, float]
    status: str
    candidates: tuple[RibbonCandidate, ...]
    emblems: tuple[EmblemSeen, ...]
    seen: np.ndarray
    pixels_per_stripe: float
    margin: float
    free: float
    stripes: int = 1
    covered: float = 0.0

    @property
    def known(self) -> float:
        """Probability that the ribbon is one of its candidates at all."""
        return sum(candidate.probability for candidate in self.candidates)

    @property
    def likeliest(self) -> float:
        """Probability of the likeliest look; awards that share it share its probability evenly."""
        best = self.candidates[0].probability
        return sum(c.probability for c in self.candidates if abs(c.probability - best) < 1e-9)


@dataclass(frozen=True)
class BarReading:
    """All rows of one bar, top first, and the light that they were read under."""

    rows: tuple[tuple[Reading, ...], ...]
    light: Light
