"""What is fixed on a ribbon: found where cells are not the cloth that the template says."""

import cv2
import numpy as np

from ribbonbar.reading.decode import Loom
from ribbonbar.reading.light import Light
from ribbonbar.reading.model import EmblemSeen
from ribbonbar.reading.observe import Segments
from ribbonbar.reading.templates import COLUMNS, ROWS

STANDS_OUT = 0.07
"""Cube-root light: an emblem is at least this far from the cloth under it."""
SMALLEST_MM2 = 5.0
"""Anything smaller is a thread or a glint."""


def emblems_of(segments: Segments, number: int, template: int, loom: Loom, light: Light) -> tuple[EmblemSeen, ...]:
    """Emblems on segment ``number``, left to right, given the template that it is read as.

    What the cloth should be is the column's own cloth for upright stripes and the template for slanted patterns, so
    that faded or odd dyes are not taken for emblems.
    """
    cells = segments.cells[number]
    upright = len(loom.vertical)
    if template < upright:
        ground = np.broadcast_to(segments.profile[number][None], cells.shape)
    else:
        ground = light.shine(loom.slanted[template - upright])
    apart = cells - ground
    apart -= np.median(apart, axis=(0, 1), keepdims=True)
    pattern = loom.bank.patterns[loom.pattern[template]]
    mm = np.array([pattern.width_mm / COLUMNS, pattern.ribbon.height_mm / ROWS])
    stands = (np.abs(apart).max(-1) > STANDS_OUT).astype(np.uint8)
    stands = cv2.morphologyEx(stands, cv2.MORPH_OPEN, np.ones((2, 5), np.uint8))
    stands = cv2.morphologyEx(stands, cv2.MORPH_CLOSE, np.ones((3, 5), np.uint8))
    count, _, boxes, centres = cv2.connectedComponentsWithStats(stands, connectivity=8)
    found = []
    for label in range(1, count):
        left, _, width, height, area = boxes[label]
        if (
            area * mm.prod() < SMALLEST_MM2
            or width * mm[0] > 16.0
            or height < 3
            or left == 0
            or left + width == COLUMNS
        ):
            continue
        x, y = centres[label]
        found.append(EmblemSeen("emblem", float((x + 0.5) / COLUMNS), float((y + 0.5) / ROWS), float(width * mm[0])))
    return tuple(sorted(found, key=lambda e: e.x))
