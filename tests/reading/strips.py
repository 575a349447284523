"""A row of woven ribbons as the decoder sees it, on ground that goes on beyond it."""

import numpy as np

from ribbonbar.reading.decode import quick_evidence
from ribbonbar.reading.observe import fineness, outline, view
from tests.reading.cloth import strip_of

PER_MM = 3
"""Columns a nominal millimetre."""


def seen_on(ground_mm: float, *names: str, found: tuple[float, float] | None = None, strip=None):
    """A row of these ribbons on dark ground that goes on to both sides; ``found`` in mm from the ribbons' true ends."""
    strip = strip or strip_of(*names)
    height, width = strip.pixels.shape[:2]
    ground = np.full((height, round(ground_mm * 6), 3), 0.05, np.float32)
    pixels = np.concatenate([ground, strip.pixels, ground], axis=1)
    left, right = found or (0.0, 0.0)
    ends = (ground.shape[1] + left * 6, ground.shape[1] + width + right * 6)
    strip = type(strip)(pixels, np.eye(3), 1.0, ends=ends)
    return view(strip, fineness([strip]))


def evidence_of(row, starts, ends, shone) -> np.ndarray:
    return quick_evidence(outline(row, np.asarray(starts, float), np.asarray(ends, float)), shone.quick)
