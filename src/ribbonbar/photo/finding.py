"""Finding the bars on a picture."""

from dataclasses import dataclass

import cv2
import numpy as np

from ribbonbar.photo.edges import refine
from ribbonbar.photo.model import FoundBar, Picture, Row
from ribbonbar.photo.rectifying import project, square_up, view
from ribbonbar.photo.regions import Region, find_regions
from ribbonbar.photo.rows import RowFit, fit_rows

VIEW_WIDTH = 420


@dataclass(frozen=True)
class Candidate:
    """A place looked at: its box, the rows fitted there (quads (4, 2), top first), and the score of the fit."""

    region: Region
    rows: tuple[np.ndarray, ...]
    score: float
    fits: tuple[RowFit, ...] = ()


def find_candidates(picture: Picture) -> tuple[Candidate, ...]:
    """All the places looked at, best first: for a person who wants to know why."""
    looked = [_look(picture.pixels, region) for region in find_regions(picture.pixels)]
    return tuple(sorted(looked, key=lambda candidate: -candidate.score))


def find_bars(picture: Picture) -> tuple[FoundBar, ...]:
    """The ribbon bars on the picture, best first; empty when there is none."""
    bars: list[FoundBar] = []
    for candidate in find_candidates(picture):
        if candidate.score < 6:
            break
        outline = bar_outline(candidate.rows)
        if all(_apart(outline, bar.corners) for bar in bars):
            bars.append(FoundBar(outline, tuple(Row(row) for row in candidate.rows), min(candidate.score / 20, 1.0)))
    return tuple(bars)


def bar_outline(rows: tuple[np.ndarray, ...]) -> np.ndarray:
    """The quad (4, 2) about all rows: the longest row's direction and ends, from the top of the first to the last's end."""
    square = cv2.getPerspectiveTransform(
        max(rows, key=lambda row: np.linalg.norm(row[1] - row[0])).astype(np.float32),
        np.float32([[0, 0], [1, 0], [1, 1], [0, 1]]),
    )
    flat = project(square, np.concatenate(rows))
    (left, top), (right, bottom) = flat.min(axis=0), flat.max(axis=0)
    box = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    return project(np.linalg.inv(square), box)


def _look(pixels: np.ndarray, region: Region) -> Candidate:
    box = (region.x, region.y, region.width, region.height)
    nothing = Candidate(region, (), 0.0)
    square = square_up(pixels, box)
    if square is None:
        return nothing
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [region.width, region.height] + [region.x, region.y]
    flat = project(square, corners)
    (left, top), (right, bottom) = flat.min(axis=0), flat.max(axis=0)
    beside = 0.1 * (right - left) + 0.2 * (bottom - top)
    above = 0.35 * (bottom - top) + 0.02 * (right - left)
    seen = view(pixels, square, np.array([left - beside, top - above, right + beside, bottom + above]), VIEW_WIDTH)
    if seen is None:
        return nothing
    fits, score = fit_rows(seen)
    if not fits:
        return nothing
    native = region.width / ((right - left) / (right - left + 2 * beside) * VIEW_WIDTH)
    rows = refine(pixels, square, seen.from_photo, fits, native)
    return Candidate(region, tuple(rows), score, tuple(fits))


def _apart(one: np.ndarray, other: np.ndarray) -> bool:
    one, other = (cv2.convexHull(quad.astype(np.float32)) for quad in (one, other))
    shared, _ = cv2.intersectConvexConvex(one, other)
    return shared < 0.2 * min(cv2.contourArea(one), cv2.contourArea(other))


def bar_from_corners(picture: Picture, corners: np.ndarray) -> FoundBar:
    """The bar within an outline given by hand: (4, 2), clockwise from top left, pixels of the upright picture."""
    corners = np.asarray(corners, np.float64)
    tall = np.linalg.norm(corners[3] - corners[0]) + np.linalg.norm(corners[2] - corners[1])
    wide = np.linalg.norm(corners[1] - corners[0]) + np.linalg.norm(corners[2] - corners[3])
    high = tall / wide
    square = cv2.getPerspectiveTransform(corners.astype(np.float32), np.float32([[0, 0], [1, 0], [1, high], [0, high]]))
    seen = view(picture.pixels, square, np.array([-0.06, -0.15 * high, 1.06, 1.15 * high]), VIEW_WIDTH)
    fits = fit_rows(seen)[0] if seen is not None else []
    rows = tuple(refine(picture.pixels, square, seen.from_photo, fits, wide / 2 / VIEW_WIDTH)) if fits else (corners,)
    return FoundBar(corners, tuple(Row(row) for row in rows), 1.0)
