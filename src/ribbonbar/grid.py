"""The picture under a grid of coordinates, from which a person reads the corners of a bar."""

import io

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from ribbonbar.photo.model import Picture

LONGEST_SIDE = 2000
"""Pixels of the picture as drawn, at most."""
_BETWEEN = 75.0  # drawn pixels between two numbered lines, at least: room for a number of five digits
_LETTERS, _TICK, _GAP = 20, 12, 5
_PAPER, _INK = (255, 255, 255), (22, 26, 34)
_TICKS = 10  # to the space between two numbered lines
_FINE = 5  # thin lines to the same space
_STRENGTH, _FINE_STRENGTH = 0.75, 0.22


def grid_png(picture: Picture) -> bytes:
    """The drawing as a PNG file with nothing in it but pixels (sRGB)."""
    buffer = io.BytesIO()
    draw_grid(picture).save(buffer, "PNG", compress_level=1)  # a photo hardly gets smaller with more, only slower
    return buffer.getvalue()


def draw_grid(picture: Picture) -> Image.Image:
    """The upright picture, at most 2000 pixels long, under numbered lines, with rulers on all four sides.

    Numbers are pixels of the picture as it is, whatever the size drawn; they are what ``--corners`` takes.
    """
    scale = min(1.0, LONGEST_SIDE / max(picture.width, picture.height))
    width, height = max(1, round(picture.width * scale)), max(1, round(picture.height * scale))
    pixels = picture.srgb(cv2.resize(picture.pixels, (width, height), interpolation=cv2.INTER_AREA))
    step = _step(_BETWEEN / scale)
    xs, ys = (np.arange(0, size + 1, step // _TICKS) for size in (picture.width, picture.height))
    font = ImageFont.load_default(_LETTERS)
    beside = _TICK + 2 * _GAP + round(font.getlength(str(picture.height)))
    above = _TICK + 2 * _GAP + _LETTERS
    sheet = Image.new("RGB", (width + 2 * beside, height + 2 * above), _PAPER)
    sheet.paste(
        Image.fromarray(_lined(pixels, xs * width / picture.width, ys * height / picture.height)), (beside, above)
    )
    pen = ImageDraw.Draw(sheet)
    for number, at in enumerate(xs.tolist()):
        x, long = beside + at * width / picture.width, number % _TICKS == 0
        for y, way, anchor in ((above, -1, "md"), (above + height, 1, "ma")):
            pen.line([(x, y), (x, y + way * (_TICK if long else _TICK // 2))], _INK, 2 if long else 1)
            if long:
                pen.text((x, y + way * (_TICK + _GAP)), str(at), _INK, font, anchor)
    for number, at in enumerate(ys.tolist()):
        y, long = above + at * height / picture.height, number % _TICKS == 0
        for x, way, anchor in ((beside, -1, "rm"), (beside + width, 1, "lm")):
            pen.line([(x, y), (x + way * (_TICK if long else _TICK // 2), y)], _INK, 2 if long else 1)
            if long:
                pen.text((x + way * (_TICK + _GAP), y), str(at), _INK, font, anchor)
    return sheet


def _step(least: float) -> int:
    """The smallest of 10, 20, 50, 100, 200, 500 … that is not below ``least``."""
    return next(digit * 10**power for power in range(1, 9) for digit in (1, 2, 5) if digit * 10**power >= least)


def _lined(pixels: np.ndarray, xs: np.ndarray, ys: np.ndarray) -> np.ndarray:
    """(h, w, 3) uint8 with lines at the ticks ``xs`` and ``ys``: a light one with a dark one on either side at every
    tenth, which shows on any ground; thin ones at every second."""
    out = pixels.astype(np.float32)
    for every, strength in ((_TICKS // _FINE, _FINE_STRENGTH), (_TICKS, _STRENGTH)):
        for shift, tone in ((-1, 0), (1, 0), (0, 255)):
            share = strength * (1.0 if shift == 0 else 0.5)
            across, down = (np.round(at[::every]).astype(int) + shift for at in (xs, ys))
            across, down = across[(across >= 0) & (across < out.shape[1])], down[(down >= 0) & (down < out.shape[0])]
            out[:, across] += share * (tone - out[:, across])
            out[down] += share * (tone - out[down])
    return np.round(out).astype(np.uint8)
