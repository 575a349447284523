"""What is fixed on a ribbon: found where cells are not the cloth that the template says."""

import cv2
import numpy as np

from ribbonbar.reading.decode import Loom
from ribbonbar.reading.light import Light
from ribbonbar.reading.model import EmblemSeen
from ribbonbar.reading.observe import LUMA, Segments
from ribbonbar.reading.templates import COLUMNS, ROWS, TRIMMED

STANDS_OUT = 0.07
"""Cube-root light: on a slanted pattern an emblem is at least this far from the cloth under it."""
SMALLEST_MM2, NARROWEST_MM, WIDEST_MM = 5.0, 2.0, 16.0
"""Anything smaller or narrower is a thread, a glint or a stripe's edge, anything wider a shadow or a fold; emblems are
seen 2 mm wide or more (281 on simulated and rendered pictures, all but one in fifty)."""
STARKEST, IN_CONTRAST, HUE_BLEEDS = 0.15, 0.05, 0.06
"""Share of an emblem that must differ from the cloth of its columns, and by how much in cube-root light; in hue by so
much more for each column by which hue is blurred: that of the rows and the ground beside bleeds into a row's edges."""
RIM_MM = 0.7
"""What the mask of an upright ribbon is widened by, left and right together."""
LEAF = 2.2
"""An emblem this much wider than it is tall is an oak leaf along the ribbon (common practice, no source)."""


def emblems_of(segments: Segments, number: int, template: int, loom: Loom, light: Light) -> tuple[EmblemSeen, ...]:
    """Emblems on segment ``number``, left to right, given the template that it is read as.

    On upright stripes they are what was set apart from the cloth; on slanted patterns, what differs from the template
    there. Of their kind only an oak leaf's can be told by its shape; the others are called ``"emblem"``.
    """
    contrast = _contrast(segments.cells[number] - segments.profile[number], loom.hue_blur)
    upright = len(loom.vertical)
    stands = _standing_out(segments, number, template, loom, light)
    stands[[0, -1]] = 0  # a frame, not an emblem
    pattern = loom.bank.patterns[loom.pattern[template]]
    mm = np.array([pattern.width_mm / COLUMNS, pattern.ribbon.height_mm * (1 - 2 * TRIMMED) / ROWS])
    count, labels, boxes, centres = cv2.connectedComponentsWithStats(stands, connectivity=4)
    found = []
    for label in range(1, count):
        left, _, width, height, area = boxes[label]
        width_mm, height_mm = width * mm[0] - RIM_MM, height * mm[1]
        at_the_edge = left == 0 or left + width == COLUMNS
        fits = NARROWEST_MM <= width_mm <= WIDEST_MM and height >= 3 and area * mm.prod() >= SMALLEST_MM2
        if not fits or at_the_edge:
            continue
        if template < upright and np.quantile(contrast[labels == label], 1.0 - STARKEST) < IN_CONTRAST:
            continue
        x, y = (centres[label] + 0.5) / (COLUMNS, ROWS)
        kind = "oak-leaf" if width_mm > LEAF * (height_mm - mm[1]) else "emblem"
        found.append(EmblemSeen(kind, float(x), float(TRIMMED + (1 - 2 * TRIMMED) * y), float(width_mm)))
    return tuple(sorted(found, key=lambda emblem: emblem.x))


def _standing_out(segments: Segments, number: int, template: int, loom: Loom, light: Light) -> np.ndarray:
    """Where (ROWS, COLUMNS) uint8 something stands out from the cloth of a segment that is read as ``template``."""
    upright = len(loom.vertical)
    if template < upright:
        return (segments.cloth[number] == 0).astype(np.uint8)
    apart = segments.cells[number] - light.shine(loom.slanted(np.array([template - upright]))[0])
    apart -= np.median(apart, axis=(0, 1), keepdims=True)
    stands = (np.abs(apart).max(-1) > STANDS_OUT).astype(np.uint8)
    return cv2.morphologyEx(stands, cv2.MORPH_OPEN, np.ones((3, 9), np.uint8))


def _contrast(apart: np.ndarray, hue_blur: float) -> np.ndarray:
    """How far cells (ROWS, COLUMNS, 3) that differ so much from the cloth stand out by more than bleeding hue."""
    lightness = apart @ LUMA
    hue = np.abs(apart - lightness[..., None]).max(-1) - HUE_BLEEDS * hue_blur
    return np.maximum(np.abs(lightness), hue)
