"""The ribbon that is in no specification: how well any few stripes of any colours would explain a segment."""

import numpy as np

from ribbonbar.reading.evidence import FREEDOM
from ribbonbar.reading.templates import COLUMNS

ANY_COLOUR = 0.22
"""Cube-root light: standard deviation of the colours that cloth comes in."""
SHORTEST = 3
"""Columns: no stripe is narrower than a millimetre for this purpose."""


def free_evidence(profile: np.ndarray, noise: float, blur: float) -> float:
    """Log evidence of the best division of ``profile`` (COLUMNS, 3) into plain stripes, each stripe paid for."""
    return -best_runs(run_costs(profile, noise, blur))[0]


def run_costs(profile: np.ndarray, noise: float, blur: float) -> np.ndarray:
    """What it costs (COLUMNS + 1, COLUMNS + 1) to call the columns from the first index up to the second one stripe.

    The cost of a run is its squared error against its own mean, in cube-root light, edges left out as far as the lens
    blurs them; each run costs its place and the width of the prior on its colour against what is left of it. Infinite
    where a run is too short.
    """
    gap = int(np.ceil(blur))
    variance = noise**2 * FREEDOM
    total = np.concatenate([np.zeros((1, 3)), np.cumsum(profile, axis=0)])
    square = np.concatenate([[0.0], np.cumsum((profile**2).sum(1))])
    start, end = np.arange(COLUMNS + 1)[:, None], np.arange(COLUMNS + 1)[None]
    inner_start = np.minimum(start + np.where(start > 0, gap, 0), COLUMNS)
    inner_end = np.maximum(end - np.where(end < COLUMNS, gap, 0), 0)
    length = inner_end - inner_start
    known = np.maximum(length, 1)
    error = square[inner_end] - square[inner_start] - ((total[inner_end] - total[inner_start]) ** 2).sum(-1) / known
    own = 3.0 * np.log(ANY_COLOUR / np.sqrt(variance / known)) + np.log(COLUMNS)
    return np.where((end - start >= SHORTEST) & (length >= 1), 0.5 * np.maximum(error, 0.0) / variance + own, np.inf)


def best_runs(cost: np.ndarray) -> tuple[float, list[int]]:
    """The least total cost of runs that together fill a ribbon, and the places where they begin and end.

    Optimal partitioning (Jackson et al. 2005, An algorithm for optimal partitioning of data on an interval).
    """
    best = np.full(COLUMNS + 1, np.inf)
    best[0] = 0.0
    begun = np.zeros(COLUMNS + 1, int)
    for stop in range(SHORTEST, COLUMNS + 1):
        reached = best[:stop] + cost[:stop, stop]
        begun[stop] = reached.argmin()
        best[stop] = reached[begun[stop]]
    edges = [COLUMNS]
    while edges[-1]:
        edges.append(int(begun[edges[-1]]))
    return float(best[COLUMNS]), edges[::-1]
