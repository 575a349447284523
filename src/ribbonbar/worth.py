"""What a bar, as it was read, is worth: how much of its area holds ribbons that tell what it is."""

import cv2
import numpy as np

from ribbonbar.photo.model import FoundBar, Row
from ribbonbar.reading.model import Reading
from ribbonbar.rows import ReadBar, recognised

USUAL_WIDTH, TALL = 32.0, (6.5, 16.5)
"""Millimetres: width of a ribbon (common practice, no source), and between which a row's height may be."""
OTHER_WIDTH = 0.22
"""Logarithm by which one row's ribbons may be wider than most: four read as three are off by 0.29, 38 on 32 mm 0.17."""
UNKNOWN_WORTH = -0.5
"""What a ribbon that is not recognised is worth against one of several stripes that is."""


def worth(bar: ReadBar) -> float:
    """Area, in pixels of the photo, of the ribbons of several stripes that are recognised, those not recognised
    and all in rows too low or too tall for ribbons, or of other ribbons' width than most, counting against it and plain
    ones not at all."""
    total = 0.0
    each = np.array([_length(row) / len(own) for row, own in zip(bar.found.rows, bar.reading.rows, strict=True)])
    usual = float(np.median(np.repeat(each, list(map(len, bar.reading.rows)))))
    for row, readings, width in zip(bar.found.rows, bar.reading.rows, each, strict=True):
        fits = TALL[0] < height_mm(row, len(readings)) < TALL[1] and abs(np.log(width / usual)) < OTHER_WIDTH
        low, high = readings[0].span[0], readings[-1].span[1]
        kinds = [
            (reading.span[1] - reading.span[0])
            * (float(tells(reading)) if fits and recognised(reading) else UNKNOWN_WORTH)
            for reading in readings
        ]
        total += row_area(row) * sum(kinds) / max(high - low, 1e-6)
    return total


def area(bar: FoundBar) -> float:
    """Area of a bar's rows, in pixels of the photo."""
    return sum(map(row_area, bar.rows))


def row_area(row: Row) -> float:
    """Area of one row, in pixels of the photo."""
    return float(cv2.contourArea(np.asarray(row.corners, np.float32)))


def _length(row: Row) -> float:
    corners = np.asarray(row.corners, float)
    return float(np.linalg.norm(corners[1] + corners[2] - corners[0] - corners[3])) / 2


def height_mm(row: Row, ribbons: int) -> float:
    """How tall a row is if its ribbons are of the usual width."""
    corners = np.asarray(row.corners, float)
    top, right, bottom, left = (np.linalg.norm(corners[(k + 1) % 4] - corners[k]) for k in range(4))
    return float((left + right) / max(top + bottom, 1e-6) * USUAL_WIDTH * ribbons)


def tells(reading: Reading) -> bool:
    """Whether a ribbon says something about where bars are: it is recognised, and of several stripes."""
    return recognised(reading) and reading.stripes > 1


def count(bar: ReadBar) -> int:
    """How many ribbons there are on a bar."""
    return sum(map(len, bar.reading.rows))


def readings_of(bar: ReadBar) -> list[Reading]:
    """All ribbons of a bar, in reading order."""
    return [reading for row in bar.reading.rows for reading in row]
