"""Where on the picture a bar may be: places where strong edges, of lightness or of hue, stand close together.

A ribbon bar packs an edge into every millimetre or two; a seam, a lapel or a name plate is a lone edge, and cloth, wood
and blurred backgrounds have no edge strong for their own picture. So the share of strong-edge pixels in a small window
separates them, at a few sizes since the bar may fill a tenth of the width or all of it.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from ribbonbar.photo.scales import Scales

WINDOW = (9, 5)  # on maps of half size; about a row high, wider than high as rows are
MOST = 12
LEAST_WIDTH, LEAST_AREA, LEAST_LENGTH = 10, 24, 0.9  # of a box, on those maps; the last as a share of its height
STROKE = 0.4  # of a tall blob's width: what is narrower in it than that is no part of a bar


@dataclass(frozen=True)
class Region:
    """A box in pixels of the picture; the share of it that strong edges fill; its rank among boxes."""

    x: float
    y: float
    width: float
    height: float
    density: float
    rank: float

    def corners(self) -> np.ndarray:
        """(4, 2), clockwise from top left."""
        return np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [self.width, self.height] + [self.x, self.y]


def find_regions(scales: Scales) -> tuple[Region, ...]:
    """Boxes that may hold a bar, densest first, at most ``MOST``."""
    found: list[Region] = []
    for level in scales.reduced:
        if min(level.pixels.shape[:2]) >= 12:
            found += _dense_boxes(_density(level.pixels), 2 * level.factor)
    return _distinct(found)


def _density(small: np.ndarray) -> np.ndarray:
    """Share of strong-edge pixels around each pixel, 0..255 uint8, at half the size of ``small``."""
    lab = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), (3, 3), 0)
    across = cv2.absdiff(lab[1:-1, 2:], lab[1:-1, :-2])
    down = cv2.absdiff(lab[2:, 1:-1], lab[:-2, 1:-1])
    lightness, a, b = cv2.split(cv2.max(across, down))
    # hue counts more than lightness: text, shadows and grain change lightness, a bar changes both
    edge = cv2.addWeighted(cv2.add(a, b), 1.0, lightness, 0.4, 0)
    threshold = max(6.0, 3.0 * float(np.median(edge[::4, ::4])))
    level = np.clip((np.arange(256) - threshold) / (2 * threshold), 0, 1) * 255
    strong = cv2.LUT(edge, level.astype(np.uint8))
    half = cv2.resize(strong, ((small.shape[1] + 1) // 2, (small.shape[0] + 1) // 2), interpolation=cv2.INTER_AREA)
    return cv2.blur(half, WINDOW)


def _dense_boxes(density: np.ndarray, scale: float) -> list[Region]:
    boxes = []
    for threshold in (38, 77, 115):
        for x, y, width, height in _blobs((density > threshold).astype(np.uint8)):
            total = float(density[y : y + height, x : x + width].sum()) / 255
            mean = total / (width * height)
            boxes.append(Region(x * scale, y * scale, width * scale, height * scale, mean, total * mean**3 * scale))
    return boxes


def _blobs(dense: np.ndarray) -> list[tuple[int, int, int, int]]:
    """Boxes (x, y, width, height) of what hangs together and may be a bar; of what is too tall, the parts that are left
    without its upright strokes: a bar may touch a lapel's edge, a strap or a cord."""
    found = []
    _, labels, stats, _ = cv2.connectedComponentsWithStats(dense, connectivity=4)
    for number, (x, y, width, height, area) in enumerate(stats[1:], 1):
        if width < LEAST_WIDTH or area < LEAST_AREA:
            continue
        if width >= LEAST_LENGTH * height:
            found.append((x, y, width, height))
        elif width >= 2 * LEAST_WIDTH:
            own = (labels[y : y + height, x : x + width] == number).astype(np.uint8)
            parts = cv2.morphologyEx(own, cv2.MORPH_OPEN, np.ones((1, int(STROKE * width)), np.uint8), borderValue=0)
            for left, top, wide, tall, most in cv2.connectedComponentsWithStats(parts, connectivity=4)[2][1:]:
                if wide >= max(LEAST_WIDTH, LEAST_LENGTH * tall) and tall >= WINDOW[1] and most >= LEAST_AREA:
                    found.append((x + left, y + top, wide, tall))
    return found


def _distinct(boxes: list[Region]) -> tuple[Region, ...]:
    """The best-ranked boxes, without those that nearly repeat a better one."""
    kept: list[Region] = []
    for box in sorted(boxes, key=lambda box: -box.rank):
        if all(_overlap(box, other) < 0.75 for other in kept):
            kept.append(box)
        if len(kept) == MOST:
            break
    return tuple(kept)


def _overlap(a: Region, b: Region) -> float:
    wide = min(a.x + a.width, b.x + b.width) - max(a.x, b.x)
    high = min(a.y + a.height, b.y + b.height) - max(a.y, b.y)
    if wide <= 0 or high <= 0:
        return 0.0
    return wide * high / (a.width * a.height + b.width * b.height - wide * high)
