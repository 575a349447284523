"""Rows of one bar lie in one plane: the foreshortening along them is one number, estimated from all of them."""

import numpy as np

from ribbonbar.photo.model import Row

EDGE_NOISE = 0.8
"""Photo pixels: standard deviation of a found edge at a row's end."""
FORESHORTENING = 0.08
"""Standard deviation of how much taller one end of the longest row is seen than the other, as a share of its height: a
bar of 100 mm seen from 300 mm, tilted by 15 degrees. A shorter row's ends differ the less."""


def evened(rows: tuple[Row, ...]) -> tuple[Row, ...]:
    """The rows, each with the foreshortening along it that all of them together make likeliest.

    A row's ends are only as exact as an edge a few pixels long; left alone, an error there would stretch one end's
    ribbons and squeeze the other's.
    """
    corners = np.stack([np.asarray(row.corners, float) for row in rows])
    left, right = (np.linalg.norm(corners[:, a] - corners[:, b], axis=1) for a, b in ((0, 3), (1, 2)))
    mean = np.maximum(0.5 * (left + right), 1e-6)
    long = np.linalg.norm(corners[:, [1, 2]] - corners[:, [0, 3]], axis=2).mean(axis=1)
    long = long / max(long.max(), 1e-6)
    precision = mean**2 / (2 * EDGE_NOISE**2)
    shared = float(
        ((right - left) / mean * long * precision).sum() / ((long**2 * precision).sum() + 1.0 / FORESHORTENING**2)
    )
    even = corners.copy()
    for top, bottom, height, side in ((0, 3, left, -1), (1, 2, right, 1)):
        middle = 0.5 * (corners[:, top] + corners[:, bottom])
        stretch = (mean * (1 + side * shared * long / 2) / np.maximum(height, 1e-6))[:, None]
        even[:, top] = middle + (corners[:, top] - middle) * stretch
        even[:, bottom] = middle + (corners[:, bottom] - middle) * stretch
    return tuple(Row(quad) for quad in even)
