"""Cutting the bar, and nothing else, out of the photograph."""

import base64
import io
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

from ribbonbar.report.model import Corners, Report

_LARGEST_SIDE = 4000  # pixels; a wild outline must not ask for gigabytes
_SMALLEST_SIDE = 4.0
_FARTHEST = 1e6
_BEYOND = (233, 233, 233)  # what lies past the photo's border


@dataclass(frozen=True)
class Crop:
    """A bar made upright and flat by its four corners, with a narrow margin.

    ``image`` is RGB, sRGB-encoded, without metadata. ``from_photo`` is the 3x3 homography from pixels of the upright
    photo to pixels of the crop.
    """

    image: Image.Image
    from_photo: np.ndarray

    def outline(self, corners: Corners) -> list[tuple[float, float]]:
        """Photo coordinates as fractions of the crop's width and height, held to 0..1."""
        size = np.array(self.image.size, float)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # a point on the horizon of the homography
            points = np.column_stack([np.asarray(corners, float), np.ones(len(corners))]) @ self.from_photo.T
            fractions = np.nan_to_num(points[:, :2] / points[:, 2:] / size)
        return [(float(x), float(y)) for x, y in np.clip(fractions, 0, 1)]


def crops_of(
    report: Report,
    pixels: np.ndarray,
    to_srgb: Callable[[np.ndarray], np.ndarray] | None = None,
    width: int = 1200,
    margin: float = 0.25,
) -> tuple[Crop | None, ...]:
    """One crop for each bar of the report; None where its outline is no proper four-cornered shape.

    ``pixels`` is (H, W, 3) uint8, the upright photo in R, G, B order; ``to_srgb`` turns a piece of it into sRGB where
    it is not that already. ``width`` is the most pixels a crop is wide; ``margin`` is shown around the bar, as a
    fraction of the mean height of its rows.
    """
    return tuple(_crop(bar.corners, len(bar.rows), pixels, to_srgb, width, margin) for bar in report.bars)


def _crop(
    corners: Corners,
    rows: int,
    pixels: np.ndarray,
    to_srgb: Callable[[np.ndarray], np.ndarray] | None,
    most_wide: int,
    margin: float,
) -> Crop | None:
    quad = np.asarray(corners, np.float64)
    if not _is_proper(quad):
        return None
    sides = [np.linalg.norm(quad[(k + 1) % 4] - quad[k]) for k in range(4)]
    wide, tall = (sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2
    if min(wide, tall) < _SMALLEST_SIDE:
        return None
    beyond = margin * tall / max(rows, 1)
    scale = min(1.0, _LARGEST_SIDE / max(wide + 2 * beyond, tall + 2 * beyond))
    left, right, bottom = scale * beyond, scale * (beyond + wide), scale * (beyond + tall)
    flat = np.float32([[left, left], [right, left], [right, bottom], [left, bottom]])
    homography = cv2.getPerspectiveTransform(quad.astype(np.float32), flat)
    size = round(right + left), round(bottom + left)
    cut = cv2.warpPerspective(pixels, homography, size, flags=cv2.INTER_CUBIC, borderValue=_BEYOND)
    image = Image.fromarray(to_srgb(cut) if to_srgb else cut)
    if image.width > most_wide:
        smaller = most_wide, max(1, round(image.height * most_wide / image.width))
        homography = np.diag([smaller[0] / image.width, smaller[1] / image.height, 1.0]) @ homography
        image = image.resize(smaller, Image.Resampling.LANCZOS)
    return Crop(image, homography)


def _is_proper(quad: np.ndarray) -> bool:
    """Four corners in reach that go round one way without a reflex angle."""
    if not (np.abs(quad) <= _FARTHEST).all():  # not for one that is no number either
        return False
    edges = np.roll(quad, -1, axis=0) - quad
    after = np.roll(edges, -1, axis=0)
    turns = edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0]
    return bool((turns > 0).all() or (turns < 0).all())


def jpeg(image: Image.Image, quality: int = 88, most_bytes: int = 0) -> bytes:
    """The image as JPEG without metadata; at lower quality, then smaller, until it takes at most ``most_bytes``."""
    bare = Image.fromarray(np.asarray(image.convert("RGB")))  # whatever the image carried beside its pixels stays here
    while True:
        buffer = io.BytesIO()
        bare.save(buffer, "JPEG", quality=quality, optimize=True)
        data = buffer.getvalue()
        if not most_bytes or len(data) <= most_bytes or min(bare.size) < 8:
            return data
        if quality > 50:
            quality -= 10
        else:
            bare = bare.resize((max(1, bare.width * 4 // 5), max(1, bare.height * 4 // 5)), Image.Resampling.LANCZOS)


def thumbnail(crop: Crop, width: int = 360, most_bytes: int = 10_000) -> bytes:
    """A small JPEG of the bar for a page that shows many."""
    height = max(1, round(crop.image.height * width / crop.image.width))
    small = crop.image.resize((width, height), Image.Resampling.LANCZOS) if width < crop.image.width else crop.image
    return jpeg(small, 75, most_bytes)


def data_uri(data: bytes, kind: str = "image/jpeg") -> str:
    """The data as an address that a page carries within itself."""
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"
