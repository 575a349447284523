"""The picture with its ground made plain: a checked, striped or mottled ground has more edges than a bar has.

But it has few hues, and each again and again; a ribbon's hues are rare on the picture. So what is of a common hue is
painted over with one colour, ribbons' stripes of such a hue included: enough is left to find the bar by.
"""

import cv2
import numpy as np

SIDE = 400  # pixels of the longer side at which hues are counted
BIN = 4  # of 8-bit a* and b*: hues counted as one; neighbours count in part
COMMON, RARE = 0.012, 0.003  # share of the picture from which a hue is the ground's, and below which it is not at all
BAND = 256  # rows painted at a time: a picture of 50 megapixels is not copied in floats


def on_plain_ground(pixels: np.ndarray) -> np.ndarray:
    """The picture (H, W, 3) uint8 RGB, what is of a common hue in one colour."""
    height, width = pixels.shape[:2]
    shrink = min(SIDE / max(height, width), 1.0)
    size = max(round(width * shrink), 1), max(round(height * shrink), 1)
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    kept = _rare(small)
    ground = np.median(small[kept < 0.5], axis=0) if (kept < 0.5).any() else np.zeros(3)
    painted = np.empty_like(pixels)
    weight = cv2.resize((kept * 255).astype(np.uint8), (width, height), interpolation=cv2.INTER_LINEAR)
    for top in range(0, height, BAND):
        band = slice(top, top + BAND)
        share = weight[band, :, None].astype(np.float32) / 255
        painted[band] = ground + (pixels[band] - ground.astype(np.float32)) * share
    return painted


def _rare(small: np.ndarray) -> np.ndarray:
    """How rare (H, W), 0..1, the hue of each pixel is on a picture."""
    _, a, b = cv2.split(cv2.cvtColor(small, cv2.COLOR_RGB2LAB) // BIN)
    bins = 256 // BIN
    number = a.astype(int) * bins + b
    counts = np.bincount(number.ravel(), minlength=bins * bins).astype(np.float32).reshape(bins, bins)
    share = cv2.GaussianBlur(counts, (5, 5), 1.0).ravel()[number] / number.size
    rare = np.interp(np.log(share), np.log([RARE, COMMON]), [1.0, 0.0]).astype(np.float32)
    return cv2.morphologyEx(cv2.blur(rare, (3, 3)), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
