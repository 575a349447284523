"""One picture at a few sizes, so that a look at a large part of it need not touch every pixel."""

from dataclasses import dataclass

import cv2
import numpy as np

LONG_SIDE = 840  # pixels of the first reduced copy: a row of a bar 8 % of the width still covers 5 of them
COPIES = 3


@dataclass(frozen=True)
class Level:
    """``pixels`` (H, W, 3) uint8 RGB, each the mean of ``factor`` x ``factor`` of the picture's."""

    factor: float
    pixels: np.ndarray

    def onto(self) -> np.ndarray:
        """3x3 from the picture's pixels to this level's; pixel centres are whole numbers in both."""
        shift = (1 / self.factor - 1) / 2
        return np.array([[1 / self.factor, 0, shift], [0, 1 / self.factor, shift], [0, 0, 1]])


@dataclass(frozen=True)
class Scales:
    """The picture itself first, then ever smaller copies."""

    levels: tuple[Level, ...]

    @staticmethod
    def of(pixels: np.ndarray) -> "Scales":
        factor = -(-max(pixels.shape[:2]) // LONG_SIDE)
        levels = [Level(1.0, pixels)]
        if factor > 1:
            levels.append(Level(float(factor), _shrink(pixels, factor)))
        while len(levels) < COPIES + (factor > 1) and min(levels[-1].pixels.shape[:2]) >= 2:
            levels.append(Level(levels[-1].factor * 2, _shrink(levels[-1].pixels, 2)))
        return Scales(tuple(levels))

    @property
    def reduced(self) -> tuple[Level, ...]:
        """The copies that are searched, largest first: the picture itself only where it is small."""
        return self.levels[-COPIES:]

    def at(self, factor: float) -> Level:
        """The smallest copy with no pixel wider than ``factor`` pixels of the picture."""
        return max((level for level in self.levels if level.factor <= max(factor, 1.0)), key=lambda level: level.factor)


def _shrink(pixels: np.ndarray, factor: int) -> np.ndarray:
    height, width = (max(side // factor, 1) for side in pixels.shape[:2])
    whole = pixels[: height * factor, : width * factor]
    return cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA)
