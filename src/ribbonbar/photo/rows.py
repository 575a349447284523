"""Splitting a bar's outline into its rows."""

import cv2
import numpy as np

from ribbonbar.photo.flattening import apply, quad_to_photo
from ribbonbar.photo.model import FoundBar, Picture, Row

MAX_ROWS = 12


def bar_from_corners(picture: Picture, corners: np.ndarray) -> FoundBar:
    """The bar within an outline given by hand: (4, 2), clockwise from top left, pixels of the upright picture."""
    corners = np.asarray(corners, np.float64)
    wide = (np.linalg.norm(corners[1] - corners[0]) + np.linalg.norm(corners[2] - corners[3])) / 2
    tall = (np.linalg.norm(corners[3] - corners[0]) + np.linalg.norm(corners[2] - corners[1])) / 2
    width = int(np.clip(wide, 64, 600))
    height = max(int(round(width * tall / wide)), 8)
    to_photo = quad_to_photo(corners, width, height)
    flat = cv2.warpPerspective(picture.pixels, to_photo, (width, height), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    edges = _row_edges(flat)
    rows = []
    for top, bottom in zip(edges[:-1], edges[1:], strict=True):
        flat_row = np.array([[0, top], [width, top], [width, bottom], [0, bottom]], float) - 0.5
        rows.append(Row(apply(to_photo, flat_row)))
    return FoundBar(corners, tuple(rows), 1.0)


def _row_edges(flat: np.ndarray) -> list[float]:
    height, width = flat.shape[:2]
    lab = cv2.cvtColor(cv2.GaussianBlur(flat, (3, 3), 0), cv2.COLOR_RGB2LAB).astype(np.float32)
    step = max(round(height / 60), 1)
    change = np.zeros(height + 1)
    jump = np.abs(lab[2 * step :] - lab[: -2 * step]).sum(axis=2).clip(0, 40).mean(axis=1)
    change[step : step + len(jump)] = jump
    best, edges = -np.inf, [0.0, float(height)]
    for count in range(1, MAX_ROWS + 1):
        pitch = height / count
        if width / pitch < 2.4 or pitch < 5:
            continue
        inner = []
        for k in range(1, count):
            low, high = int(k * pitch - 0.15 * pitch), int(k * pitch + 0.15 * pitch) + 1
            inner.append(low + int(np.argmax(change[low:high])))
        score = (np.mean(change[inner]) - np.mean(change)) if inner else 0.35 * np.max(change)
        score -= 0.0 if width / pitch < 28 else 10
        if score > best:
            best, edges = score, [0.0, *map(float, inner), float(height)]
    return edges
