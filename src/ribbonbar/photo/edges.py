"""The four edges of each row to a fraction of a pixel, each a straight line of its own.

Top and bottom: going outward from the row's middle, the place where a column leaves its own colour. That place is right
whether the next row touches, a dark gap lies between, or the jacket begins. Ends: the steepest change of colour near
the end that was found. Lines are fitted robustly, so that emblems, diagonal stripes and glints do not bend them.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from ribbonbar.photo.lines import consensus, crossing
from ribbonbar.photo.rectifying import length, project, view
from ribbonbar.photo.rows import RowFit
from ribbonbar.photo.scales import Scales

ROW_PIXELS = 28.0
WIDEST = 1100
STEEPEST, ALIKE = 0.02, 0.006  # slope of an edge in a flattened view, and how far one edge's may be from another's


def refine(scales: Scales, from_photo: np.ndarray, fits: list[RowFit]) -> list[np.ndarray]:
    """The rows' quads (4, 2) on the photo. ``fits`` are in the view that ``from_photo`` (3x3) leads to."""
    height = float(np.median([fit.height for fit in fits]))
    around = 0.6 * height
    frame = np.array(
        [
            min(fit.left for fit in fits) - around,
            min(fit.top for fit in fits) - around,
            max(fit.right for fit in fits) + around,
            max(fit.bottom for fit in fits) + around,
        ]
    )
    width = int(np.clip((frame[2] - frame[0]) / height * ROW_PIXELS, 32, WIDEST))
    seen = view(scales, from_photo, frame, width)
    scale = width / (frame[2] - frame[0])
    lab = seen.features
    back = np.linalg.inv(seen.from_photo)
    boxes = [tuple((value - frame[k % 2]) * scale for k, value in enumerate(_box(fit))) for fit in fits]
    levels = [places for box in boxes for places in _levels(lab, *box)]
    lines = _alike(levels)
    quads = []
    for number, (x0, y0, x1, y1) in enumerate(boxes):
        (top, bottom), left, right = lines[2 * number : 2 * number + 2], _end(lab, x0, y0, y1), _end(lab, x1, y0, y1)
        corners = [crossing(top, left), crossing(top, right), crossing(bottom, right), crossing(bottom, left)]
        quads.append(project(back, np.array(corners) - 0.5))
    return quads


def _box(fit: RowFit) -> tuple[float, float, float, float]:
    return fit.left, fit.top, fit.right, fit.bottom


@dataclass(frozen=True)
class Places:
    """Where an edge was seen: points ``x``, ``y`` and their ``weight`` (N,), in a view; ``level`` is where it was
    found at first, ``height`` its row's."""

    x: np.ndarray
    y: np.ndarray
    weight: np.ndarray
    level: float
    height: float

    def line(self, slope: float, play: float) -> tuple[float, float]:
        """The line y = p + q x through most of them, q within ``play`` of ``slope``; the level where there are none."""
        if not len(self.x):
            return self.level, 0.0
        level = self.level - slope * float(self.x.mean())
        p, q = consensus(self.x, self.y - slope * self.x, self.weight, level, 0.05 * self.height, play)
        return p, q + slope

    def kept(self, line: tuple[float, float]) -> float:
        """Share of the points that keep to a line."""
        near = np.abs(self.y - line[0] - line[1] * self.x) < 0.05 * self.height
        return float((self.weight * near).sum() / max(self.weight.sum(), 1e-6)) if len(self.x) > 3 else 0.0


def _alike(levels: list[Places]) -> list[tuple[float, float]]:
    """One line for each edge, all of much the same slope: a flattened bar's edges run alike. It is the
    weighted median's; of two edges, that of the one that more of its points keep to."""
    lines = [places.line(0.0, STEEPEST) for places in levels]
    kept = np.array([places.kept(line) for places, line in zip(levels, lines, strict=True)])
    slopes = np.array([slope for _, slope in lines])
    if len(lines) == 2:
        common = slopes[kept.argmax()]
    else:
        order = np.argsort(slopes)
        common = slopes[order][int(np.searchsorted(np.cumsum(kept[order]), 0.5 * kept.sum()))]
    return [places.line(float(common), ALIKE) for places in levels]


def _levels(lab: np.ndarray, x0: float, y0: float, x1: float, y1: float) -> tuple[Places, Places]:
    """Where the top and the bottom edge of the row near the box are seen."""
    height = y1 - y0
    a, b = round(y0 + 0.25 * height), round(y1 - 0.25 * height)
    c, d = max(round(x0 + 0.06 * height), 0), min(round(x1 - 0.06 * height), lab.shape[1])
    thirds = [part.mean(axis=0) for part in np.array_split(lab[max(a, 0) : max(b, a + 3), c:d], 3)]
    own = np.median(thirds, axis=0)
    away = length(lab[:, c:d] - own)
    top = _departure(away, y0, height, c)
    flipped = _departure(away[::-1], len(lab) - y1, height, c)
    return top, replace(flipped, y=len(lab) - flipped.y, level=y1)


def _departure(away: np.ndarray, edge: float, height: float, offset: int) -> Places:
    """Where columns leave their own colour, going up from below ``edge``."""
    size = max(round(0.4 * height), 3)
    count = away.shape[1] // size
    first, last = max(round(edge - 0.32 * height), 0), round(edge + 0.5 * height)
    part = away[first:last]
    if count < 3 or len(part) < 5:
        return Places(*np.zeros((3, 0)), edge, height)
    blocks = part[:, : count * size].reshape(len(part), count, size).mean(axis=2)
    start = round(edge + 0.28 * height) - first
    outside = np.percentile(blocks[: max(round(edge - 0.02 * height) - first, 1)], 75, axis=0)
    inside = np.median(blocks[start:], axis=0)
    level = inside + 0.5 * np.minimum(outside - inside, 24)
    above = blocks > level
    above[start:] = False
    at = start - 1 - np.argmax(above[start - 1 :: -1], axis=0) if start > 0 else np.zeros(count, int)
    columns = np.arange(count)
    worst = np.percentile(blocks[start:], 85, axis=0)  # large where stripes slant
    good = above.any(axis=0) & (outside - inside > 4.0) & (outside > 2.2 * worst)
    over, under = blocks[at, columns], blocks[np.minimum(at + 1, len(blocks) - 1), columns]
    y = first + at + 0.5 + np.clip((over - level) / np.maximum(over - under, 1e-3), 0, 1)
    x = offset + (columns + 0.5) * size
    return Places(x[good], y[good], np.minimum(outside - inside, 24)[good], edge, height)


def _end(lab: np.ndarray, edge: float, y0: float, y1: float) -> tuple[float, float]:
    """The line x = p + q y of steepest change near a row's end."""
    height = y1 - y0
    reach = max(0.13 * height, 1.5)
    first, last = round(edge - reach) - 2, round(edge + reach) + 2
    a, b = round(y0 + 0.14 * height), round(y1 - 0.14 * height)
    if first < 0 or last > lab.shape[1] or b - a < 4:
        return edge, 0.0
    bands = np.array_split(lab[max(a, 0) : b, first:last], min(5, b - a))
    profiles = np.array([band.mean(axis=0) for band in bands])
    steep = np.sqrt((np.diff(profiles, axis=1) ** 2).sum(axis=2))
    steep = cv2.blur(steep, (3, 1))
    at = np.clip(np.argmax(steep, axis=1), 1, steep.shape[1] - 2)
    rows = np.arange(len(steep))
    before, here, after = steep[rows, at - 1], steep[rows, at], steep[rows, at + 1]
    shift = 0.5 * (before - after) / np.minimum(before - 2 * here + after, -1e-3)
    y = np.linspace(a, b, len(steep) + 1)
    return consensus((y[1:] + y[:-1]) / 2, first + 1 + at + np.clip(shift, -0.5, 0.5), here, edge, 0.04 * height, 0.12)
