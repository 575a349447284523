"""The picture under a grid of coordinates, from which a person reads the corners of a bar."""

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from ribbonbar.photo.model import Picture

LONGEST_SIDE = 2000
"""Pixels of the picture as drawn."""
_BETWEEN = 75.0  # drawn pixels between two numbered lines, at least: room for a number of five digits
_MARGIN, _LETTERS = 58, 20
_PAPER, _INK = (255, 255, 255), (22, 26, 34)
_TICKS = 10  # to a step between numbered lines


def draw_grid(picture: Picture) -> Image.Image:
    """The upright picture, sRGB, at most 2000 pixels long, with numbered lines. Numbers are pixels of the picture as it
    is, whatever the size drawn; they are what ``--corners`` takes."""
    scale = min(1.0, LONGEST_SIDE / max(picture.width, picture.height))
    size = max(1, round(picture.width * scale)), max(1, round(picture.height * scale))
    small = cv2.resize(picture.pixels, size, interpolation=cv2.INTER_AREA)
    step = _step(_BETWEEN / scale)
    lined = _lined(picture.srgb(small), step, size[0] / picture.width, size[1] / picture.height)
    sheet = Image.new("RGB", (size[0] + 2 * _MARGIN, size[1] + 2 * _MARGIN), _PAPER)
    sheet.paste(Image.fromarray(lined), (_MARGIN, _MARGIN))
    pen, font = ImageDraw.Draw(sheet), ImageFont.load_default(_LETTERS)
    across, down = size[0] / picture.width, size[1] / picture.height
    for at in range(0, picture.width + 1, max(1, step // _TICKS)):
        x, numbered = _MARGIN + at * across, at % step == 0
        for y, way in ((_MARGIN, -1), (_MARGIN + size[1], 1)):
            pen.line([(x, y), (x, y + way * (14 if numbered else 6))], _INK, 2 if numbered else 1)
            if numbered:
                pen.text((x, y + way * 18), str(at), _INK, font, anchor="md" if way < 0 else "ma")
    for at in range(0, picture.height + 1, max(1, step // _TICKS)):
        y, numbered = _MARGIN + at * down, at % step == 0
        for x, way in ((_MARGIN, -1), (_MARGIN + size[0], 1)):
            pen.line([(x, y), (x + way * (14 if numbered else 6), y)], _INK, 2 if numbered else 1)
            if numbered:
                pen.text((x + way * 17, y), str(at), _INK, font, anchor="rm" if way < 0 else "lm")
    return sheet


def _step(least: float) -> int:
    """The smallest of 10, 20, 50, 100, 200, 500 … that is not below ``least``."""
    return next(round(digit * 10**power) for power in range(1, 9) for digit in (1, 2, 5) if digit * 10**power >= least)


def _lined(pixels: np.ndarray, step: int, across: float, down: float) -> np.ndarray:
    """The picture (h, w, 3) uint8 with a light line between two dark ones at every step, seen on any ground."""
    out = pixels.astype(np.float32)
    height, width = pixels.shape[:2]
    for shift, tone, strength in ((-1, 0, 0.35), (1, 0, 0.35), (0, 255, 0.6)):
        xs = np.round(np.arange(0, width / across, step) * across).astype(int) + shift
        ys = np.round(np.arange(0, height / down, step) * down).astype(int) + shift
        xs, ys = xs[(xs >= 0) & (xs < width)], ys[(ys >= 0) & (ys < height)]
        out[:, xs] += strength * (tone - out[:, xs])
        out[ys] += strength * (tone - out[ys])
    return np.round(out).astype(np.uint8)
