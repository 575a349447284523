"""Undoing perspective from the bar's own lines: row edges make one pencil of lines, stripe edges the other.

Each family meets in a vanishing point. For each, the two parameters are searched that make the family's edges pile up
most sharply when they are projected along it (the sharpness of a projection profile, as text is deskewed). The two
vanishing points give the homography up to a scale along either axis, which is all that splitting rows needs.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from ribbonbar.photo.scales import Scales

LIGHTNESS_WEIGHT = 0.6  # lightness counts less than hue: shadows and weave change lightness only
_CROP_WIDTH = 280
_MOST_POINTS = 1400
_BINS = 400

SHEAR_MOST = 26
"""Degrees by which a tilted camera may lean stripes against their rows: at 40 degrees each way, 24 (arcsin of the
product of the two sines). Diagonal patterns lean further and are not taken for upright ones."""


@dataclass(frozen=True)
class Rectified:
    """A part of the picture seen squarely: ``features`` (H, W, 3), and 3x3 ``from_photo`` onto it."""

    features: np.ndarray
    from_photo: np.ndarray


def to_features(pixels: np.ndarray) -> np.ndarray:
    """(H, W, 3) uint8 RGB to float32 of the same shape: log lightness, and hue and chroma as a shadow leaves them.

    In CIE L*a*b* a shadow multiplies L* + 16, a* and b* alike, so a* and b* over L* are free of it. One unit is about
    one unit of L*a*b* at middle lightness; darker differences count more, as the eye lets them in dim light.
    """
    lab = cv2.cvtColor(np.multiply(pixels, np.float32(1 / 255), dtype=np.float32), cv2.COLOR_RGB2LAB)
    lightness, a, b = cv2.split(lab)
    gain = np.float32(50) / (lightness + np.float32(18))
    return cv2.merge([np.float32(55 * LIGHTNESS_WEIGHT) * cv2.log(lightness + np.float32(24)), a * gain, b * gain])


def length(steps: np.ndarray) -> np.ndarray:
    """Euclidean length of the last axis: (H, W, 3) float32 to (H, W)."""
    return cv2.sqrt(cv2.transform(steps * steps, np.ones((1, 3), np.float32)))


def square_up(scales: Scales, box: tuple[float, float, float, float]) -> np.ndarray | None:
    """3x3 from the photo to a frame where rows lie flat and stripes upright, from the edges in and around ``box``.

    ``box`` is x, y, width, height in pixels of the picture. None when the box holds no such lines.
    """
    crop, to_crop = _crop(scales, box)
    if min(crop.shape[:2]) < 8:
        return None
    strength, angle = _edges(to_features(crop))
    height, width = strength.shape
    half = width / 2
    y, x = np.nonzero(strength)
    weight, angle = strength[y, x], angle[y, x]
    rows_at = _strongest_angle(weight, angle, 90, 35)
    stripes_at = _strongest_angle(weight, angle, rows_at - 90, SHEAR_MOST)
    x, y = ((at - (size - 1) / 2).astype(np.float32) / half for at, size in ((x, width), (y, height)))
    near = _near(angle, rows_at)
    b, k = _pencil(x[near], y[near], weight[near], np.tan(np.radians(rows_at - 90)), (0.08, 9), (0.24, 7))
    near = _near(angle, stripes_at)
    c, m = _pencil(y[near], x[near], weight[near], -np.tan(np.radians(stripes_at)), (0.15, 11), (0.3, 5))
    horizon = np.cross([-1.0, -b, k], [-c, -1.0, m])
    if abs(horizon[2]) < 1e-3:
        return None
    square = np.array([[1, -c, 0], [-b, 1, 0], horizon / horizon[2]])
    centred = np.array([[1 / half, 0, -(width - 1) / 2 / half], [0, 1 / half, -(height - 1) / 2 / half], [0, 0, 1]])
    return square @ centred @ to_crop


def squared_by(row: np.ndarray) -> tuple[np.ndarray, float]:
    """3x3 from the photo to where a row, a quad (4, 2), lies flat from (0, 0) on, its height the unit; and its width
    there."""
    wide = float(np.linalg.norm(row[1] - row[0]) / max(np.linalg.norm(row[3] - row[0]), 1e-6))
    flat = np.float32([[0, 0], [wide, 0], [wide, 1], [0, 1]])
    return cv2.getPerspectiveTransform(row.astype(np.float32), flat), wide


def view(scales: Scales, square: np.ndarray, frame: np.ndarray, width: int) -> Rectified | None:
    """What ``square`` shows of the picture within ``frame`` (left, top, right, bottom in its units), ``width`` wide."""
    left, top, right, bottom = frame
    scale = width / (right - left)
    height = round(np.clip((bottom - top) * scale, 12, 640))
    onto = np.array([[scale, 0, -left * scale - 0.5], [0, scale, -top * scale - 0.5], [0, 0, 1]]) @ square
    back = np.linalg.inv(onto)
    outline = project(back, np.array([[0, 0], [width, 0], [width, height], [0, height]], float))
    if not np.isfinite(outline).all() or np.abs(outline).max() > 1e6:
        return None
    finest = min(np.linalg.norm(outline[1] - outline[0]) / width, np.linalg.norm(outline[3] - outline[0]) / height)
    level = scales.at(finest)
    back, outline = level.onto() @ back, project(level.onto(), outline)
    tall, wide = level.pixels.shape[:2]
    x0, y0 = np.clip(np.floor(outline.min(axis=0)).astype(int) - 2, 0, [wide - 1, tall - 1])
    x1, y1 = np.clip(np.ceil(outline.max(axis=0)).astype(int) + 3, [x0 + 1, y0 + 1], [wide, tall])
    part = level.pixels[y0:y1, x0:x1]
    shift = np.array([[1, 0, -x0], [0, 1, -y0], [0, 0, 1.0]])
    shrink = int(finest / level.factor + 0.4)
    if shrink > 1:
        h, w = max(part.shape[0] // shrink, 1), max(part.shape[1] // shrink, 1)
        part = cv2.resize(part[: h * shrink, : w * shrink], (w, h), interpolation=cv2.INTER_AREA)
        middle = (1 / shrink - 1) / 2
        shift = np.array([[1 / shrink, 0, middle], [0, 1 / shrink, middle], [0, 0, 1]]) @ shift
    flat = cv2.warpPerspective(
        part,
        shift @ back,
        (width, height),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return Rectified(to_features(flat), onto)


def project(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    """``points`` (N, 2) through a 3x3 homography, (N, 2)."""
    mapped = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return mapped[:, :2] / mapped[:, 2:]


def _crop(scales: Scales, box: tuple[float, float, float, float]) -> tuple[np.ndarray, np.ndarray]:
    """The box with a little around it, about ``_CROP_WIDTH`` wide, and 3x3 from the photo to the crop."""
    x, y, width, height = box
    beside, above = 0.04 * width + 0.15 * height, 0.2 * height + 0.02 * width
    level = scales.at((width + 2 * beside) / _CROP_WIDTH)
    tall, wide = level.pixels.shape[:2]
    x0, y0 = (int(max(0, value / level.factor)) for value in (x - beside, y - above))
    x1 = int(min(wide, (x + width + beside) / level.factor))
    y1 = int(min(tall, (y + height + above) / level.factor))
    crop = level.pixels[y0:y1, x0:x1]
    if min(crop.shape[:2]) < 8:
        return crop, np.eye(3)
    shrink = max((x1 - x0) / _CROP_WIDTH, 1.0)
    if shrink > 1:
        size = max(round((x1 - x0) / shrink), 1), max(round((y1 - y0) / shrink), 1)
        crop = cv2.resize(crop, size, interpolation=cv2.INTER_AREA)
    sx, sy = crop.shape[1] / (x1 - x0), crop.shape[0] / (y1 - y0)
    onto = np.array([[sx, 0, -x0 * sx + (sx - 1) / 2], [0, sy, -y0 * sy + (sy - 1) / 2], [0, 0, 1]])
    return crop, onto @ level.onto()


def _edges(features: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Saturated strength of straight edges (0 elsewhere) and their gradient's direction in degrees, 0 along x."""
    smooth = cv2.GaussianBlur(features, (3, 3), 0.7)
    gx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=1, borderType=cv2.BORDER_REPLICATE)
    gy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=1, borderType=cv2.BORDER_REPLICATE)
    ones = np.ones((1, 3), np.float32)
    xx, yy, xy = (cv2.transform(p * q, ones) for p, q in ((gx, gx), (gy, gy), (gx, gy)))
    strength = cv2.sqrt(xx + yy)
    xx, yy, xy = (cv2.blur(part, (3, 3)) for part in (xx, yy, xy))
    difference = xx - yy
    straight = cv2.magnitude(difference, 2 * xy) > 0.6 * (xx + yy)
    keep = straight & (strength > max(4.0, float(np.percentile(strength[::3, ::3], 70))))
    angle = cv2.phase(difference, 2 * xy, angleInDegrees=True) / 2
    return np.where(keep, np.minimum(strength, 25), 0), angle


def _strongest_angle(strength: np.ndarray, angle: np.ndarray, centre: int, reach: int) -> int:
    """The gradient direction, degrees, with the most edge within ``reach`` of ``centre``, a little drawn to it."""
    histogram = np.bincount(np.round(angle).astype(int) % 180, strength, minlength=180)
    histogram = np.convolve(np.r_[histogram[-3:], histogram, histogram[:3]], [0.25, 0.5, 1, 1, 1, 0.5, 0.25], "valid")
    offset = np.arange(-reach, reach + 1)
    return int(centre + offset[np.argmax(histogram[(centre + offset) % 180] * (1 - 0.3 * (offset / reach) ** 2))])


def _near(angle: np.ndarray, centre: float) -> np.ndarray:
    near = np.flatnonzero(np.abs((angle - centre + 90) % 180 - 90) < 14)
    return near[:: max(len(near) // _MOST_POINTS, 1)]


def _pencil(
    x: np.ndarray, y: np.ndarray, weight: np.ndarray, slope: float, slopes: tuple[float, int], turns: tuple[float, int]
) -> tuple[float, float]:
    """Slope b and turn k of the lines y = v + (b + k v) x along which the weighted points pile up most sharply."""
    if len(x) < 8:
        return slope, 0.0
    b, k = _sharpest(
        x, y, weight, slope + np.linspace(-slopes[0], slopes[0], slopes[1]), np.linspace(-turns[0], turns[0], turns[1])
    )
    fine_b, fine_k = slopes[0] / (slopes[1] - 1), turns[0] / (turns[1] - 1)
    return _sharpest(x, y, weight, b + np.linspace(-fine_b, fine_b, 5), k + np.linspace(-fine_k, fine_k, 5))


def _sharpest(x: np.ndarray, y: np.ndarray, weight: np.ndarray, b: np.ndarray, k: np.ndarray) -> tuple[float, float]:
    b, k = (grid.astype(np.float32).ravel()[:, None] for grid in np.meshgrid(b, k))
    lines = (y - b * x) / np.maximum(1 + k * x, np.float32(0.2))
    bins = np.clip(lines * 100 + _BINS / 2, 0, _BINS - 1).astype(np.intp)
    bins += (np.arange(len(b)) * _BINS)[:, None]
    profile = np.bincount(bins.ravel(), np.tile(weight.astype(float), len(b)), minlength=len(b) * _BINS)
    profile = profile.reshape(len(b), _BINS)
    profile = profile[:, 1:] + profile[:, :-1]
    sharpness = (profile**2).sum(axis=1) * (1 - 0.1 * np.abs(k[:, 0]))
    best = int(np.argmax(sharpness))
    return float(b[best, 0]), float(k[best, 0])
