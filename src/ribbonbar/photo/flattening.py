"""Making a row flat: one homography, in linear light, averaged by area where the strip is smaller than the photo."""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from ribbonbar.errors import PhotoError
from ribbonbar.photo.icc import linear_tables, to_srgb
from ribbonbar.photo.model import Picture, Row, Strip

ROW_HEIGHT_MM = 10.0  # nominal; rows of 8 to 13 mm are worn
FOCAL_MM, FRAME_MM = (
    28.0,
    43.27,
)  # of a picture that does not say: between a phone's lenses; a 24 x 36 mm frame's diagonal
LARGEST_STRIP, LARGEST_WARP = 1 << 23, 1 << 26  # pixels; a wild outline must not ask for gigabytes


def flatten_row(
    picture: Picture,
    row: Row,
    pixels_per_mm: float | None = None,
    height: int | None = None,
    margin: float = 0.0,
) -> Strip:
    """The row as a flat strip, as large as asked for.

    ``height`` is the row's height in strip pixels (or ``pixels_per_mm``, taking the row as 10 mm tall); without either
    it is the row's own height on the photo, at most 64. The width follows from
    `aspect_of`. ``margin`` (a fraction of the height, rounded to whole pixels) shows that much beyond the row on all
    four sides; beyond the photo's border its last pixels are repeated. Raises PhotoError when the row has no area or
    reaches the plane's horizon.
    """
    corners = np.asarray(row.corners, np.float64)
    top, right, bottom, left = (np.linalg.norm(corners[(k + 1) % 4] - corners[k]) for k in range(4))
    tall, wide = (left + right) / 2, (top + bottom) / 2
    area = cv2.contourArea(corners.astype(np.float32)) if np.isfinite(corners).all() else 0.0
    if area < 1 or tall < 1 or wide < 1:
        raise PhotoError(f"{picture.name}: a row of {wide:.0f} x {tall:.0f} pixels is too small to read")
    if height is None:
        height = round(min(tall, 64.0)) if pixels_per_mm is None else round(pixels_per_mm * ROW_HEIGHT_MM)
    height = max(height, 2)
    aspect = aspect_of(picture, corners)
    if not aspect < LARGEST_STRIP:  # nor NaN
        raise PhotoError(f"{picture.name}: a row of {wide:.0f} x {tall:.0f} pixels is too skewed to flatten")
    width = max(round(height * aspect), 2)
    beyond = round(margin * height)
    if (width + 2 * beyond) * (height + 2 * beyond) > LARGEST_STRIP:
        raise PhotoError(f"{picture.name}: a row of {wide:.0f} x {tall:.0f} pixels is too long to flatten")
    to_photo = quad_to_photo(corners, width, height, beyond)
    shape = (height + 2 * beyond, width + 2 * beyond)
    shrink = max(int(np.ceil(tall / height - 0.25)), 1)
    if shape[0] * shape[1] * shrink**2 > LARGEST_WARP:
        raise PhotoError(f"{picture.name}: a row of {wide:.0f} x {tall:.0f} pixels is too large to flatten")
    return Strip(_linear_warp(picture, to_photo, shape, shrink), to_photo, height / tall, beyond)


def aspect_of(picture: Picture, corners: np.ndarray) -> float:
    """Width to height of a row that is seen as the quad ``corners`` (4, 2), allowing for its being turned away to one
    side: its nearer end is seen taller.

    The plane's tilt follows from the homography and the focal length (Zhang & He 2007, Whiteboard scanning and image
    enhancement, section 3.2), the principal point being the picture's middle. Up and down a row is too short to
    show its tilt.
    """
    middle = np.array([picture.width, picture.height]) / 2 - 0.5
    focal = FOCAL_MM / FRAME_MM * float(np.hypot(picture.width, picture.height))
    to_middle = unit_to_photo(corners - middle)
    along, down, _ = to_middle.T
    place = apply(to_middle, np.array([[0.5, 0.5]]))[0]
    wide = np.hypot(np.linalg.norm(along[:2]) / focal, along[2])
    tall = np.linalg.norm(down[:2] - place * down[2]) / focal
    return float(wide / max(tall, 1e-9))


def quad_to_photo(corners: np.ndarray, width: float, height: float, margin: float = 0.0) -> np.ndarray:
    """3x3 homography from pixels of a ``width`` x ``height`` rectangle (``margin`` pixels around it) to the quad."""
    low, right, bottom = margin - 0.5, margin + width - 0.5, margin + height - 0.5
    flat = np.array([[low, low], [right, low], [right, bottom], [low, bottom]], np.float32)
    return cv2.getPerspectiveTransform(flat, np.asarray(corners, np.float32))


def unit_to_photo(corners: np.ndarray) -> np.ndarray:
    """3x3 homography from the unit square to the quad ``corners`` (4, 2)."""
    return quad_to_photo(corners, 1.0, 1.0) @ np.array([[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1.0]])


def flatten_beyond(picture: Picture, row: Row, beyond: float, others: Sequence[Row] = ()) -> Strip:
    """The row as ``flatten_row`` makes it, and ``beyond`` times its height more on the left and on the right.

    ``ends`` of the strip say where the row itself begins and ends, so that the reading can look past ends that were
    found too short; its ``reach`` says how far the bar's ``others`` go.
    """
    corners = np.asarray(row.corners, float)
    top, right, bottom, left = (np.linalg.norm(corners[(k + 1) % 4] - corners[k]) for k in range(4))
    more = beyond * (left + right) / max(top + bottom, 1e-6)
    to_photo = unit_to_photo(corners)
    start, end = -_short_of_horizon(to_photo, 0.0, -1, more), 1.0 + _short_of_horizon(to_photo, 1.0, 1, more)
    wide = apply(to_photo, np.array([[start, 0], [end, 0], [end, 1], [start, 1]]))
    strip = flatten_row(picture, Row(wide))
    ends = [_ends_on(strip, each) for each in (row, *others)]
    starts, stops = zip(*ends[1:], strict=True) if others else ((), ())
    return replace(strip, ends=ends[0], reach=(min(starts), max(stops)) if others else None)


def _ends_on(strip: Strip, row: Row) -> tuple[float, float]:
    """Where a row begins and ends, in pixels along the strip."""
    x = apply(np.linalg.inv(strip.to_photo), np.asarray(row.corners, float))[:, 0]
    return float(x[[0, 3]].mean()), float(x[[1, 2]].mean())


def _short_of_horizon(to_photo: np.ndarray, x: float, way: int, more: float) -> float:
    """How far beyond ``x`` to go that ``way`` (1 or -1), at most ``more``, so that nothing there is seen more than
    twice as small as at ``x``: ``to_photo`` (3x3) is from the unit square, on which the row lies."""
    along, down, here = to_photo[2] / np.sign(to_photo[2] @ [0.5, 0.5, 1.0])
    nearness = min(along * x + here, along * x + down + here)
    return min(more, 0.5 * nearness / max(-along * way, 1e-9))


def part_of(strip: Strip, start: float, end: float) -> np.ndarray:
    """Corners (4, 2) on the photo of the part of a strip without margin between two fractions of its width."""
    height, width = strip.pixels.shape[:2]
    low, high, bottom = start * width - 0.5, end * width - 0.5, height - 0.5
    return apply(strip.to_photo, np.array([[low, -0.5], [high, -0.5], [high, bottom], [low, bottom]]))


def apply(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    """``points`` (N, 2) through a 3x3 homography, (N, 2)."""
    mapped = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return mapped[:, :2] / mapped[:, 2:]


def _linear_warp(picture: Picture, to_photo: np.ndarray, shape: tuple[int, int], shrink: int) -> np.ndarray:
    """The strip in linear light, sampled ``shrink`` times finer each way and averaged."""
    rows, columns = shape
    outline = apply(to_photo, np.array([[-1, -1], [columns, -1], [columns, rows], [-1, rows]], float))
    x0, y0 = np.clip(np.floor(outline.min(axis=0)).astype(int) - 2, 0, [picture.width - 1, picture.height - 1])
    x1, y1 = np.clip(np.ceil(outline.max(axis=0)).astype(int) + 3, [x0 + 1, y0 + 1], [picture.width, picture.height])
    crop = picture.pixels[y0:y1, x0:x1]
    tables = linear_tables(picture.icc)
    if tables is None:
        crop = to_srgb(crop, picture.icc)
        tables = linear_tables(b"")
    curves, matrix = tables
    linear = cv2.LUT(np.ascontiguousarray(crop), np.ascontiguousarray(curves.T[None]))
    # the sub-pixel grid: the centre of strip pixel k is the mean of its `shrink` samples
    finer = np.array([[1 / shrink, 0, 0.5 / shrink - 0.5], [0, 1 / shrink, 0.5 / shrink - 0.5], [0, 0, 1]])
    shift = np.array([[1, 0, -x0], [0, 1, -y0], [0, 0, 1.0]])
    flat = cv2.warpPerspective(
        linear,
        shift @ to_photo @ finer,
        (columns * shrink, rows * shrink),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    if shrink > 1:
        flat = cv2.resize(flat, (columns, rows), interpolation=cv2.INTER_AREA)
    if picture.icc:
        flat = cv2.transform(flat, matrix)
    return np.clip(flat, 0.0, 1.0)
