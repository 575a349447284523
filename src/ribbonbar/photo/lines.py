"""Straight lines through points of which some belong to something else, and where two lines cross."""

import numpy as np

FAR_APART = 0.6  # half widths of the points: two nearer than that say little of the line's slope
TURNS = 4


def consensus(
    x: np.ndarray, y: np.ndarray, weight: np.ndarray, edge: float, tolerance: float, steepest: float
) -> tuple[float, float]:
    """Robust line y = p + q x; the level ``edge`` when too few points agree.

    Of the lines through any two points the one that most of the others keep to (Tukey's biweight), then made exact by
    iterated least squares: a frame around one ribbon moves a quarter of the points, all to one side, and must not tilt
    the line.
    """
    if len(x) < 3:
        return edge, 0.0
    middle, span = (x.min() + x.max()) / 2, max(np.ptp(x) / 2, 1e-6)
    u = (x - middle) / span
    reach = 3 * tolerance
    first, second = np.nonzero(u[None] - u[:, None] > FAR_APART)
    slopes = np.concatenate([(y[second] - y[first]) / (u[second] - u[first]), np.zeros(len(u))])
    levels = np.concatenate([y[first] - slopes[: len(first)] * u[first], y])
    held = np.abs(slopes) <= steepest * span
    levels, slopes = levels[held], slopes[held]
    left = y - levels[:, None] - slopes[:, None] * u
    best = int((weight * np.clip(1 - (left / reach) ** 2, 0, 1) ** 2).sum(axis=1).argmax())
    p, q = float(levels[best]), float(slopes[best])
    for _ in range(TURNS):
        w = weight * np.clip(1 - ((y - p - q * u) / reach) ** 2, 0, 1) ** 2
        if (w > 0).sum() < 3:
            return edge, 0.0
        # a light pull to level: a handful of blocks must not tilt a line
        sums = w.sum(), (w * u).sum(), (w * u * u).sum() + 0.15 * weight.sum() / len(u)
        wy, wuy = (w * y).sum(), (w * u * y).sum()
        det = sums[0] * sums[2] - sums[1] ** 2
        if det <= 1e-9:
            return edge, 0.0
        p, q = (sums[2] * wy - sums[1] * wuy) / det, (sums[0] * wuy - sums[1] * wy) / det
    q = float(np.clip(q, -steepest * span, steepest * span)) / span
    return p - q * middle, q


def crossing(level: tuple[float, float], upright: tuple[float, float]) -> tuple[float, float]:
    """Where y = p + q x meets x = r + s y."""
    (p, q), (r, s) = level, upright
    y = (p + q * r) / (1 - q * s)
    return r + s * y, y
