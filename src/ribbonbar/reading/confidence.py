"""From log evidence to probabilities that keep their word, and from those to a status.

The numbers of `Calibration` were chosen on simulated pictures; ``python -m tests.benchmarks.calibration_fit`` fits them
anew, and how well the probabilities keep their word is what ``python -m tests.benchmarks.calibration`` shows.
"""

from dataclasses import dataclass

import numpy as np

from ribbonbar.reading.weigh import Weighed


@dataclass(frozen=True)
class Calibration:
    """``sharpness`` scales log evidence between ribbons (cells err together, so raw evidence is too sure of itself).
    ``none_at`` is the log evidence over the free model at which a ribbon is as likely to be none of the catalogue's as
    its best candidate, ``none_scale`` how fast that changes. ``uneven_at`` and ``uneven_scale`` say the same of how
    much an upright ribbon may differ along its stripes, emblems included."""

    sharpness: float = 1.8
    none_at: float = -4.0
    none_scale: float = 2.7
    uneven_at: float = 85.0
    uneven_scale: float = 6.0


CALIBRATION = Calibration()
SURE = 0.95
"""Probability from which a ribbon is said to be identified."""
WORTH_SAYING = 0.01
"""Candidates less likely than this are left out."""
MOST_CANDIDATES = 6


@dataclass(frozen=True)
class Look:
    """One pattern, one way round: ``pattern`` indexes the catalogue's patterns."""

    pattern: int
    reversed: bool
    probability: float
    log_evidence: float


def looks(
    weighed: list[Weighed],
    free: float,
    uneven: float,
    pattern: np.ndarray,
    turned: np.ndarray,
    weight: np.ndarray,
    calibration: Calibration = CALIBRATION,
) -> list[Look]:
    """Probability of each look, in falling order; what is missing to 1 is the chance of a ribbon in no specification.

    ``weighed`` are templates in falling order of evidence, ``free`` the free model's log evidence, ``uneven`` what the
    cells' departure from upright stripes cost the best template (0 for slanted patterns, which expect it); ``pattern``
    and ``turned`` (T,) describe the templates, ``weight`` (P,) says how likely each pattern is worn. Phases of one
    diagonal are one look and count once, at their best.
    """
    best: dict[tuple[int, bool], float] = {}
    for one in weighed:
        key = (int(pattern[one.template]), bool(turned[one.template]))
        best.setdefault(key, one.log_evidence)
    evidence = np.array(list(best.values()))
    share = np.exp(calibration.sharpness * (evidence - evidence[0])) * weight[[pattern for pattern, _ in best]]
    known = _logistic((evidence[0] - free - calibration.none_at) / calibration.none_scale)
    known *= _logistic((calibration.uneven_at - uneven) / calibration.uneven_scale)
    share *= known / share.sum()
    found = [Look(p, r, float(s), float(e)) for (p, r), s, e in zip(best, share, evidence, strict=True)]
    return sorted(found, key=lambda look: -look.probability)


def _logistic(x: float) -> float:
    return float(1.0 / (1.0 + np.exp(-np.clip(x, -50.0, 50.0))))


def status_of(found: list[Look], names: int) -> str:
    """``identified``, ``ambiguous`` or ``unidentified``; ``names`` is how many awards have the likeliest pattern."""
    known = sum(look.probability for look in found)
    if known < 0.5:
        return "unidentified"
    likeliest = sum(look.probability for look in found if look.pattern == found[0].pattern)
    return "identified" if likeliest >= SURE and names == 1 else "ambiguous"
