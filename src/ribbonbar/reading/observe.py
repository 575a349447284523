"""A flat strip as the decoder sees it: cells of cube-root light, emblems set apart, one segment cut out at a time."""

from dataclasses import dataclass

import cv2
import numpy as np

from ribbonbar.photo.model import Strip
from ribbonbar.reading.templates import COLUMNS, ROWS

SAMPLES_PER_MM = 3.0
TOE = 0.002
"""Added to linear light before the cube root, so that noise in the dark stays small."""
EMBLEM_CONTRAST = 0.05
"""Cube-root light: what is less than this from the ribbon's edge rows is cloth, not an emblem."""


@dataclass(frozen=True)
class RowView:
    """``cells`` (ROWS, W, 3) float32 cube-root light, SAMPLES_PER_MM columns a nominal millimetre; ``cloth`` (ROWS, W)
    1 where the cell is cloth, 0 where something stands out from its column (emblem, glint); ``clipped`` (ROWS, W, 3)
    1 where the camera had no more room. ``photo_pixels_per_mm`` says how fine the photograph is."""

    cells: np.ndarray
    cloth: np.ndarray
    clipped: np.ndarray
    photo_pixels_per_mm: float


def root(linear: np.ndarray) -> np.ndarray:
    """Linear light to the space the reading compares in: nearly even to the eye, where light is nearly a gain."""
    return np.cbrt(np.maximum(linear, 0.0) + TOE)


def view(strip: Strip, height_mm: float = 10.0) -> RowView:
    """The strip in cells. A twelfth of the height is left out above and below: turned edges, the next row's shadow."""
    height, width = strip.pixels.shape[:2]
    columns = max(8, round(width / height * height_mm * SAMPLES_PER_MM))
    inner = strip.pixels[round(height / 12) : height - round(height / 12)]
    linear = cv2.resize(inner, (columns, ROWS), interpolation=cv2.INTER_AREA if width > columns else cv2.INTER_LINEAR)
    if inner.shape[0] > ROWS and width <= columns:
        shrunk = cv2.resize(inner, (width, ROWS), interpolation=cv2.INTER_AREA)
        linear = cv2.resize(shrunk, (columns, ROWS), interpolation=cv2.INTER_LINEAR)
    clipped = (linear > 0.955).astype(np.float32)
    cells = root(linear).astype(np.float32)
    cloth = _cloth(cells)
    return RowView(cells, cloth, clipped, height / height_mm / strip.scale)


def _cloth(cells: np.ndarray) -> np.ndarray:
    """Which cells (ROWS, W) look like the outermost rows of their own column, where emblems do not reach.

    The rounding of the cloth is the same in every column and is taken out first. What stands out is widened by a
    cell: an emblem's rim and shadow belong to it.
    """
    ground = 0.5 * (cells[0] + cells[-1])
    apart = cells - ground
    apart = np.abs(apart - np.median(apart, axis=1, keepdims=True)).max(-1)
    noise = float(np.median(np.abs(cells[0] - cells[-1])))
    emblem = (apart > EMBLEM_CONTRAST + 1.5 * noise).astype(np.uint8)
    emblem = cv2.dilate(cv2.morphologyEx(emblem, cv2.MORPH_OPEN, np.ones((1, 3), np.uint8)), np.ones((3, 3), np.uint8))
    emblem[[0, -1]] = 0
    return 1.0 - emblem.astype(np.float32)


@dataclass(frozen=True)
class Segments:
    """Cut-out ribbons: ``cells`` (S, ROWS, COLUMNS, 3), ``cloth`` (S, ROWS, COLUMNS), ``clipped`` like ``cells``."""

    cells: np.ndarray
    cloth: np.ndarray
    clipped: np.ndarray

    @property
    def weight(self) -> np.ndarray:
        """How many rows of each column are cloth: (S, COLUMNS), never 0 (the outermost rows always count)."""
        return self.cloth.sum(1)

    @property
    def seen_clipped(self) -> np.ndarray:
        """Share of each column's cloth that is clipped: (S, COLUMNS, 3)."""
        return (self.clipped * self.cloth[..., None]).sum(1) / self.weight[..., None]

    def pick(self, numbers: list[int] | np.ndarray) -> "Segments":
        """Some of the segments, in that order."""
        return Segments(self.cells[numbers], self.cloth[numbers], self.clipped[numbers])

    @property
    def profile(self) -> np.ndarray:
        """Mean of the cloth in each column: (S, COLUMNS, 3)."""
        return (self.cells * self.cloth[..., None]).sum(1) / self.weight[..., None]


def cut(row: RowView, starts: np.ndarray, ends: np.ndarray) -> Segments:
    """Segments between ``starts`` and ``ends`` (S,), in columns of the row, each resampled to COLUMNS columns."""
    at = starts[:, None] + (np.arange(COLUMNS) + 0.5) / COLUMNS * (ends - starts)[:, None] - 0.5
    at = np.clip(at, 0, row.cells.shape[1] - 1)
    low = np.floor(at).astype(int)
    high = np.minimum(low + 1, row.cells.shape[1] - 1)
    part = (at - low).astype(np.float32)

    def sample(values: np.ndarray) -> np.ndarray:
        mix = part[None, ..., None] if values.ndim == 3 else part[None]
        return np.moveaxis(values[:, low] * (1 - mix) + values[:, high] * mix, 0, 1)

    return Segments(sample(row.cells), (sample(row.cloth) > 0.5).astype(np.float32), sample(row.clipped))
