"""Where a bar of one or two ribbons may lie: four-sided patches that stand out from the ground of the whole picture.

Finding goes by many edges close together; a lone ribbon of three stripes has hardly more than a label. But it lies on
cloth or on a table, and stands out from it as one patch.
"""

import cv2
import numpy as np

from ribbonbar.photo.edges import refine
from ribbonbar.photo.finding import may_be_row
from ribbonbar.photo.model import FoundBar, Row
from ribbonbar.photo.rectifying import length, squared_by, to_features
from ribbonbar.photo.rows import LEAST_ASPECT, MOST_ASPECT, RowFit
from ribbonbar.photo.scales import Scales
from ribbonbar.photo.silhouette import GRAIN, ground_of

WIDTH = 360  # pixels of the picture made small
LEAST_SIDE = 32
UNLIKE = 4.0  # usual departures of the ground from itself, beyond which a place is unlike it
BORDER = 0.06  # share of the shorter side: where a bar fills the picture, its border alone is ground
FILLED = 0.82  # least share of its upright or tilted box that a patch fills
LEAST_AREA = 0.002  # of the picture
STEEPEST = 40.0  # degrees
HARDLY = 0.001  # the confidence of a patch: the reading must say what it is


def patches(scales: Scales) -> tuple[FoundBar, ...]:
    """Patches that may be a bar, each as one row: what is unlike most of the picture, or else unlike its border."""
    height, width = scales.levels[0].pixels.shape[:2]
    level = scales.at(max(width / WIDTH, 1.0))
    shrink = min(WIDTH / level.pixels.shape[1], 1.0)
    size = [round(side * shrink) for side in level.pixels.shape[1::-1]]
    if min(size) < LEAST_SIDE:
        return ()
    small = cv2.resize(level.pixels, size, interpolation=cv2.INTER_AREA)
    smooth = cv2.blur(to_features(small), (GRAIN, GRAIN))
    everywhere, border = np.ones(smooth.shape[:2], bool), np.ones(smooth.shape[:2], bool)
    edge = max(round(BORDER * min(size)), GRAIN)
    border[edge:-edge, edge:-edge] = False
    scale = np.array([width / small.shape[1], height / small.shape[0]])
    quads = [quad * scale for quad in _standing_out(smooth, everywhere) or _standing_out(smooth, border)]
    quads = [_exact(scales, quad) for quad in quads if may_be_row(scales, quad)]
    return tuple(FoundBar(quad, (Row(quad),), HARDLY) for quad in quads)


def _exact(scales: Scales, quad: np.ndarray) -> np.ndarray:
    """The row (4, 2) with its edges where they are seen: a box knows of no perspective, and takes in a shadow."""
    square, wide = squared_by(quad)
    (exact,) = refine(scales, square, [RowFit(0.0, 0.0, wide, 1.0, 0, 0.0, 0.0, 0.0)])
    return exact if may_be_row(scales, exact) else quad


def _standing_out(smooth: np.ndarray, outside: np.ndarray) -> list[np.ndarray]:
    """Boxes (4, 2) of what is unlike the ground that most of ``outside`` (H, W) shows, largest first."""
    away = length(smooth - ground_of(smooth, outside))
    unlike = (away > UNLIKE * max(float(np.median(away[outside])), 1.0)).astype(np.uint8)
    unlike = cv2.morphologyEx(unlike, cv2.MORPH_CLOSE, np.ones((2 * GRAIN + 1,) * 2, np.uint8))
    unlike = cv2.erode(unlike, np.ones((GRAIN, GRAIN), np.uint8))
    contours, _ = cv2.findContours(unlike, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    contours = sorted(contours, key=cv2.contourArea, reverse=True)
    large = [contour for contour in contours if cv2.contourArea(contour) >= LEAST_AREA * unlike.size]
    return [box for box in map(_box, large) if box is not None]


def _box(contour: np.ndarray) -> np.ndarray | None:
    """The box (4, 2) about a contour, clockwise from top left, if it fills it and is as long and level as rows are."""
    box = cv2.minAreaRect(contour)
    sides = box[1]
    if min(sides) < 1.0 or cv2.contourArea(contour) < FILLED * sides[0] * sides[1]:
        return None
    corners = cv2.boxPoints(box).astype(float)
    corners = np.roll(corners, -int(corners.sum(axis=1).argmin()), axis=0)
    (across, rise), down = corners[1] - corners[0], np.linalg.norm(corners[3] - corners[0])
    level = abs(np.degrees(np.arctan2(rise, across))) <= STEEPEST
    return corners if level and LEAST_ASPECT <= np.hypot(across, rise) / down <= MOST_ASPECT else None
