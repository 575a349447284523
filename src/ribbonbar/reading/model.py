"""What the reading hands on: per position, the ribbons that the picture still allows and how sure each is."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class RibbonCandidate:
    """One specification ribbon, one way round. ``award`` and ``ribbon`` name it; ``probability`` is calibrated."""

    award: str
    ribbon: str
    reversed: bool
    probability: float


@dataclass(frozen=True)
class Reading:
    """One ribbon as read. ``span`` is its left and right edge as fractions of the row's width.

    ``seen`` is the profile with the light taken out, (N, 3) CIE L*a*b*. ``emblems`` are (kind, x, y, size_mm) with x
    and y as fractions of the ribbon. ``pixels_per_stripe`` is the width in photo pixels of the narrowest stripe of the
    best candidate.
    """

    span: tuple[float, float]
    status: str
    candidates: tuple[RibbonCandidate, ...]
    emblems: tuple[tuple[str, float, float, float], ...]
    seen: np.ndarray
    pixels_per_stripe: float


@dataclass(frozen=True)
class BarReading:
    """All rows of one bar, top first. ``log_evidence`` lets other views (mirrored …) compete."""

    rows: tuple[tuple[Reading, ...], ...]
    log_evidence: float
    mirrored_log_odds: float
    upside_down_log_odds: float
