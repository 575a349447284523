"""What the photo stage hands on. Coordinates are pixels of the upright picture, (x, y)."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Picture:
    """An opened picture, upright. ``pixels`` is (H, W, 3) uint8 in R, G, B order, as the file encodes them.

    ``icc`` is the colour profile the file encodes them in, empty for sRGB. Converting 12 megapixels is slow and only
    the bar matters, so pixels are converted where they are used: `photo.icc.to_srgb` (8 bit, for drawing) or
    `photo.flattening.flatten_row` (linear light, for reading).
    """

    name: str
    pixels: np.ndarray
    sha256: str
    icc: bytes = b""

    @property
    def width(self) -> int:
        return self.pixels.shape[1]

    @property
    def height(self) -> int:
        return self.pixels.shape[0]

    def srgb(self, crop: np.ndarray | None = None) -> np.ndarray:
        """The crop (h, w, 3) uint8 of ``pixels`` (all of them by default), converted to sRGB. Slow on a whole photo."""
        from ribbonbar.photo.icc import to_srgb

        return to_srgb(self.pixels if crop is None else crop, self.icc)


@dataclass(frozen=True)
class Row:
    """One row of ribbons. ``corners`` is (4, 2) float, clockwise from top left."""

    corners: np.ndarray


@dataclass(frozen=True)
class FoundBar:
    """A bar on the picture: its outline (4, 2) clockwise from top left (a short row included) and its rows, top first.

    ``confidence`` in 0..1 says how much the find looks like a ribbon bar; the reading has the last word.
    """

    corners: np.ndarray
    rows: tuple[Row, ...]
    confidence: float


@dataclass(frozen=True)
class Strip:
    """A row made flat. ``pixels`` is (H, W, 3) float32, **linear** light in sRGB primaries, 0..1.

    ``to_photo`` is the 3x3 homography from strip pixels (x, y, 1) to the upright picture. ``scale`` is how many strip
    pixels one photo pixel covers down the row, on average (above 1: the strip was enlarged).

    ``margin`` is how many strip pixels lie beyond the row's edge on each of the four sides. Pixel centres are at whole
    numbers in both pictures: the row's top left corner is at (margin - 0.5, margin - 0.5).
    """

    pixels: np.ndarray
    to_photo: np.ndarray
    scale: float
    margin: int = 0
    ends: tuple[float, float] | None = None
    """Where the row begins and ends, in strip pixels, when the strip shows more on its left and right."""
    reach: tuple[float, float] | None = None
    """Where the outermost of the bar's other rows begin and end, in strip pixels; None where there is no other."""
