"""The ribbon that is in no specification: how well any few stripes of any colours would explain a segment."""

import numpy as np

from ribbonbar.reading.evidence import FREEDOM
from ribbonbar.reading.templates import COLUMNS

ANY_COLOUR = 0.22
"""Cube-root light: standard deviation of the colours that cloth comes in."""
SHORTEST = 3
"""Columns: no stripe is narrower than a millimetre for this purpose."""


def free_evidence(profiles: np.ndarray, noise: float, blur: float) -> np.ndarray:
    """Log evidence (S,) of the best division of each of ``profiles`` (S, COLUMNS, 3) into plain stripes, each stripe
    paid for."""
    return -_cheapest(np.stack([run_costs(profile, noise, blur) for profile in profiles]))[0][:, -1]


def run_costs(profile: np.ndarray, noise: float, blur: float) -> np.ndarray:
    """What it costs (COLUMNS + 1, COLUMNS + 1) to call the columns of ``profile`` (COLUMNS, 3) from the first index up
    to the second one stripe.

    The cost of a run is its squared error against its own mean, in cube-root light, edges left out as far as the lens
    blurs them; each run costs its place and the width of the prior on its colour against what is left of it. Infinite
    where a run is too short.
    """
    gap = int(np.ceil(blur))
    variance = noise**2 * FREEDOM
    total = np.concatenate([np.zeros((1, 3)), np.cumsum(profile, axis=0)])
    square = np.concatenate([[0.0], np.cumsum((profile**2).sum(1))])
    places = np.arange(COLUMNS + 1)
    first = np.minimum(places + np.where(places > 0, gap, 0), COLUMNS)
    last = np.maximum(places - np.where(places < COLUMNS, gap, 0), 0)
    length = np.subtract.outer(last, first).T
    known = np.maximum(length, 1)
    sums = total[first], total[last]
    apart = np.add.outer(*((each**2).sum(1) for each in sums)) - 2.0 * sums[0] @ sums[1].T
    error = np.subtract.outer(square[last], square[first]).T - apart / known
    own = (3.0 * np.log(ANY_COLOUR / np.sqrt(variance / np.maximum(places, 1))) + np.log(COLUMNS))[known]
    allowed = (np.subtract.outer(places, places).T >= SHORTEST) & (length >= 1)
    return np.where(allowed, 0.5 * np.maximum(error, 0.0) / variance + own, np.inf)


def best_runs(cost: np.ndarray) -> tuple[float, list[int]]:
    """The least total cost of runs that together fill a ribbon, and the places where they begin and end."""
    best, begun = _cheapest(cost)
    edges = [COLUMNS]
    while edges[-1]:
        edges.append(int(begun[edges[-1]]))
    return float(best[COLUMNS]), edges[::-1]


def _cheapest(cost: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The least total cost (..., COLUMNS + 1) of runs that fill the columns up to each place, and where the last of
    them begins; ``cost`` is (..., COLUMNS + 1, COLUMNS + 1).

    Optimal partitioning (Jackson et al. 2005, An algorithm for optimal partitioning of data on an interval).
    """
    best = np.full(cost.shape[:-1], np.inf)
    best[..., 0] = 0.0
    begun = np.zeros(best.shape, int)
    for stop in range(SHORTEST, COLUMNS + 1):
        reached = best[..., :stop] + cost[..., :stop, stop]
        begun[..., stop] = reached.argmin(-1)
        best[..., stop] = reached.min(-1)
    return best, begun
