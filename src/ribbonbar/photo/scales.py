"""One picture at a few sizes, so that a look at a large part of it need not touch every pixel."""

from dataclasses import dataclass

import cv2
import numpy as np

LONG_SIDE = 840  # pixels of the largest copy searched: a row of a bar 8 % of the width still covers 5 of them
COPIES = 3
FEW = 3  # times smaller that a picture is made in one step: so few pixels take no time


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
        while factor > FEW and 2 * levels[-1].factor <= factor and min(levels[-1].pixels.shape[:2]) >= 2:
            levels.append(_halved(levels[-1]))
        if levels[-1].factor < factor:
            levels.append(_reduced(levels[-1], factor))
        for _ in range(COPIES - 1):
            if min(levels[-1].pixels.shape[:2]) >= 2:
                levels.append(_halved(levels[-1]))
        return Scales(tuple(levels))

    @property
    def reduced(self) -> tuple[Level, ...]:
        """The copies that are searched, largest first: the picture itself only where it is small."""
        return self.levels[-COPIES:]

    def at(self, factor: float) -> Level:
        """The smallest copy with no pixel wider than ``factor`` pixels of the picture."""
        return max((level for level in self.levels if level.factor <= max(factor, 1.0)), key=lambda level: level.factor)


def _halved(level: Level) -> Level:
    """Two by two pixels made one: the one reduction that is fast."""
    height, width = (side // 2 for side in level.pixels.shape[:2])
    whole = level.pixels[: 2 * height, : 2 * width]
    return Level(2 * level.factor, cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA))


def _reduced(level: Level, factor: int) -> Level:
    """The level of this factor: averaged where that is a whole number of times as coarse; else it is less than twice,
    and so little is interpolated as well."""
    by = factor / level.factor
    height, width = (max(int(side / by), 1) for side in level.pixels.shape[:2])
    whole = level.pixels[: max(int(height * by), 1), : max(int(width * by), 1)]
    kind = cv2.INTER_AREA if by.is_integer() else cv2.INTER_LINEAR
    return Level(float(factor), cv2.resize(whole, (width, height), interpolation=kind))
