"""What else the rows of a bar might be, from its silhouette: all that is unlike the ground it lies on.

Finding goes by edges: rows are where colours change along two lines. A ribbon with level bands, a diagonal, a frame or
a lone pale ribbon on top can mislead it. Where the ground is even, the bar stands out as one patch, whatever its
ribbons look like; that patch, cut into rows of like height, is a second opinion, and the reading chooses.
"""

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np

from ribbonbar.photo.edges import refine
from ribbonbar.photo.finding import bar_outline, may_be_row
from ribbonbar.photo.lines import consensus, crossing
from ribbonbar.photo.model import FoundBar, Row
from ribbonbar.photo.rectifying import Rectified, length, project, squared_by, view
from ribbonbar.photo.rows import LEAST_ASPECT, MOST_ASPECT, Bands, RowFit
from ribbonbar.photo.scales import Scales

ROW_PIXELS, WIDEST = 16.0, 640
VIEWS = 3  # looked at, each wider, until the whole patch is in view
MOST_ROWS, KEPT = 8, 3
LEAST_ROW = 6.0  # pixels of the view
PLAY = 0.12  # row heights by which an exact edge may lie off the patch's
SHADE, GLOW = 0.4, 0.8  # what a darker and a lighter place of the ground's hue counts against one of another hue
CLEAR = 0.3  # least share of a line between two rows where colours change: 0.58 in 49 of 50 true rows
SHARP, ABOUT = 0.25, 2  # least change of colour at a row's free side, and pixels of the view about it to look for that
GRAIN = 5  # pixels of the view over which noise is averaged
ASLANT = 0.15  # row heights by which a side of the patch may lean in the view before it is looked at squarely
RIM = 40  # places along a side that its line is laid through
LEANS = 0.6  # steepest slope of a side in the view
RAGGED = 0.4  # share of a side's places that keep to its line, below which it is none
UNEVEN = 5.0  # departure of the ground from itself at which a silhouette says nothing


@dataclass(frozen=True)
class Silhouette:
    """What stands out from the ground about a bar, in a view of it: ``mask`` (H, W), and the rows' ``boxes`` (N, 4) as
    they were found, each left, top, right, bottom. ``like_ground`` (H, W) is what has the ground's hue, in whatever
    light."""

    seen: Rectified
    mask: np.ndarray
    boxes: np.ndarray
    like_ground: np.ndarray

    def share(self) -> float:
        """Share (0..1) of the patch and the rows together that only one of them covers."""
        covered = np.zeros(self.mask.shape, bool)
        for left, top, right, bottom in self.boxes:
            covered[max(round(top), 0) : max(round(bottom), 0), max(round(left), 0) : max(round(right), 0)] = True
        return float((self.mask ^ covered).sum() / max((self.mask | covered).sum(), 1))

    def other_rows(self, scales: Scales) -> list[FoundBar]:
        """Bars that would cover the patch, likeliest first."""
        others = []
        for fits in _cuts(Bands.of(self.seen.features), self.mask):
            exact = refine(scales, self.seen.from_photo, fits)
            rows = [
                row if may_be_row(scales, row) and _is_near(row, fit, self.seen.from_photo) else _own(fit, self.seen)
                for row, fit in zip(exact, fits, strict=True)
            ]
            if all(may_be_row(scales, row) for row in rows):
                others.append(FoundBar(bar_outline(tuple(rows)), tuple(Row(row) for row in rows), 0.0))
        return others


def silhouette(scales: Scales, bar: FoundBar) -> Silhouette | None:
    """What stands out from the ground about a bar; None where the ground is too uneven to say.

    Where the patch lies aslant in the view that the rows found are level in, it is looked at again squarely: the rows
    may have been misled, and the patch is not.
    """
    rows = [np.asarray(row.corners, float) for row in bar.rows]
    longest = max(rows, key=lambda row: np.linalg.norm(row[1] - row[0]))
    square, _ = squared_by(longest)
    seen = _whole_patch(scales, square, rows)
    upright = None if seen is None else _upright(seen)
    return seen if upright is None else _whole_patch(scales, upright, rows)


def _whole_patch(scales: Scales, square: np.ndarray, rows: list[np.ndarray]) -> Silhouette | None:
    """The patch about rows (quads on the photo) in the view of ``square``, a row height its unit."""
    flat = np.array([project(square, row) for row in rows])
    low, high = flat.min(axis=(0, 1)), flat.max(axis=(0, 1))
    size = high - low
    beside, above = max(4.5, 0.15 * size[0]), max(1.5, 0.14 * size[0], 0.4 * size[1])
    around = np.array([beside, above])
    frame = np.concatenate([low - around, high + around])
    for _ in range(VIEWS):
        seen = view(scales, square, frame, int(np.clip((frame[2] - frame[0]) * ROW_PIXELS, 120, WIDEST)))
        if seen is None:
            return None
        scale = seen.features.shape[1] / (frame[2] - frame[0])
        corners = (flat - frame[:2]) * scale
        boxes = np.stack(
            [
                corners[:, [0, 3], 0].mean(axis=1),
                corners[:, [0, 1], 1].mean(axis=1),
                corners[:, [1, 2], 0].mean(axis=1),
                corners[:, [2, 3], 1].mean(axis=1),
            ],
            axis=1,
        )
        found = _patch(seen.features, boxes)
        if found is None:
            return None
        mask, like = found
        cut = np.array([mask[:, 0].any(), mask[0].any(), mask[:, -1].any(), mask[-1].any()]) * [-1.0, -1.0, 1.0, 1.0]
        if not cut.any():
            break
        frame = frame + cut * np.tile([0.5 * (frame[2] - frame[0]), 0.5 * (frame[3] - frame[1])], 2)
    return Silhouette(seen, mask, boxes, like)


def _upright(seen: Silhouette) -> np.ndarray | None:
    """3x3 from the photo to where the patch's sides are level and upright, a row height its unit; None where they are
    so already, or are no lines."""
    height = float(np.median(seen.boxes[:, 3] - seen.boxes[:, 1]))
    quad = _sides(seen.mask, 0.06 * height)
    if quad is None or not cv2.isContourConvex(quad.astype(np.float32)):
        return None
    across, down = quad[[1, 2]] - quad[[0, 3]], quad[[3, 2]] - quad[[0, 1]]
    if max(np.abs(across[:, 1]).max(), np.abs(down[:, 0]).max()) <= ASLANT * height:
        return None
    wide, tall = (np.linalg.norm(sides, axis=1).mean() / height for sides in (across, down))
    box = np.float32([[0, 0], [wide, 0], [wide, tall], [0, tall]])
    return cv2.getPerspectiveTransform(quad.astype(np.float32), box) @ seen.seen.from_photo


def _sides(mask: np.ndarray, play: float) -> np.ndarray | None:
    """The quad (4, 2) about a patch, each side the line that most of its rim keeps to within ``play``; None where a
    side is no line."""
    lines = []
    for turned in (mask, mask.T):
        along = np.flatnonzero(turned.any(axis=0))
        along = along[np.linspace(0, len(along) - 1, min(len(along), RIM)).round().astype(int)]
        for rim in (turned.argmax(axis=0)[along], len(turned) - turned[::-1].argmax(axis=0)[along]):
            line = consensus(along + 0.5, rim.astype(float), np.ones(len(rim)), float(np.median(rim)), play, LEANS)
            if np.mean(np.abs(rim - line[0] - line[1] * (along + 0.5)) < 3 * play) < RAGGED:
                return None
            lines.append(line)
    top, bottom, left, right = lines
    corners = [crossing(top, left), crossing(top, right), crossing(bottom, right), crossing(bottom, left)]
    return np.array(corners) - 0.5


def _is_near(row: np.ndarray, fit: RowFit, from_photo: np.ndarray) -> bool:
    """Whether a row's exact quad (4, 2) keeps to the patch's own edges: slanting stripes and frames mislead it."""
    return bool(np.abs(project(from_photo, row) - _box(fit)).max() <= PLAY * fit.height)


def _own(fit: RowFit, seen: Rectified) -> np.ndarray:
    """The patch's own edges as a quad (4, 2) on the photo."""
    return project(np.linalg.inv(seen.from_photo), _box(fit))


def _box(fit: RowFit) -> np.ndarray:
    return np.array([[fit.left, fit.top], [fit.right, fit.top], [fit.right, fit.bottom], [fit.left, fit.bottom]]) - 0.5


def _patch(features: np.ndarray, boxes: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    """Where (H, W) the bar stands out from the ground, and where the ground's own hue is seen."""
    height = float(np.median(boxes[:, 3] - boxes[:, 1]))
    outside = np.ones(features.shape[:2], bool)
    for left, top, right, bottom in boxes:
        around = 0.35 * height
        outside[
            max(round(top - around), 0) : max(round(bottom + around), 0),
            max(round(left - around), 0) : max(round(right + around), 0),
        ] = False
    if outside.mean() < 0.15:
        return None
    smooth = cv2.blur(features, (GRAIN, GRAIN))
    apart = smooth - ground_of(smooth, outside)
    apart[..., 0] *= np.where(apart[..., 0] < 0, SHADE, GLOW)
    away = length(apart)
    usual = float(np.median(away[outside]))
    if usual > UNEVEN:
        return None
    unlike = (away > max(4.0, 4.0 * usual)).astype(np.uint8)
    unlike = cv2.erode(unlike, np.ones((GRAIN, GRAIN), np.uint8))  # as much as the averaging has let it grow
    closing = np.ones((max(round(0.12 * height), 1) * 2 + 1, max(round(0.3 * height), 1) * 2 + 1), np.uint8)
    unlike = cv2.morphologyEx(unlike, cv2.MORPH_CLOSE, closing)
    hue = np.linalg.norm(apart[..., 1:], axis=2)
    patch = _of_the_bar(unlike, ~outside, 0.3 * height)
    return None if patch is None else (patch, outside & (hue < max(4.0, 4.0 * float(np.median(hue[outside])))))


def _of_the_bar(unlike: np.ndarray, inside: np.ndarray, play: float) -> np.ndarray | None:
    """The largest patch ``inside`` the rows found, and others inside them that stand no higher nor lower: stripes of
    the ground's colour may part them."""
    count, labels, boxes, _ = cv2.connectedComponentsWithStats(unlike, connectivity=4)
    shares = np.bincount(labels[inside], minlength=count)[1:]
    if not len(shares) or not shares.max():
        return None
    main = 1 + int(shares.argmax())
    top, height, areas = boxes[1:, 1], boxes[1:, 3], boxes[1:, 4]
    level = (top >= boxes[main, 1] - play) & (top + height <= boxes[main, 1] + boxes[main, 3] + play)
    own = 1 + np.flatnonzero(level & (shares > 0.5 * areas))
    return np.isin(labels, [main, *own])


def ground_of(features: np.ndarray, outside: np.ndarray) -> np.ndarray:
    """The ground's colour at every place (H, W, 3): a plane through most of what lies outside, in each channel."""
    height, width = outside.shape
    y, x = np.nonzero(outside)
    y, x = y[::7], x[::7]
    basis = np.stack([np.ones(len(x)), 2 * x / width - 1, 2 * y / height - 1], axis=1).astype(np.float32)
    seen = features[y, x]
    plane = np.zeros((3, 3), np.float32)
    plane[0] = np.median(seen, axis=0)
    for _ in range(5):
        left = np.sqrt(((seen - basis @ plane) ** 2).sum(axis=1))
        scale = max(float(np.median(left)) * 3.0, 2.0)
        weight = np.clip(1 - (left / scale) ** 2, 0, 1) ** 2
        weighted = basis * weight[:, None]
        plane = np.linalg.solve(weighted.T @ basis + 1e-3 * np.eye(3), weighted.T @ seen)
    down, along = (2 * np.arange(size, dtype=np.float32)[:, None] / size - 1 for size in (height, width))
    middle, wide, tall = plane.astype(np.float32)
    return (middle + along * wide) + (down * tall)[:, None]


def _cuts(bands: Bands, mask: np.ndarray) -> list[list[RowFit]]:
    """Ways to cut a patch into rows of like height, likeliest first."""
    lines = np.flatnonzero(mask.sum(axis=1) >= 0.35 * min(mask.sum(axis=1).max(), 40))
    if not len(lines):
        return []
    top, bottom = int(lines[0]), int(lines[-1]) + 1
    found = []
    for count in range(1, MOST_ROWS + 1):
        pitch = (bottom - top) / count
        if pitch < LEAST_ROW:
            break
        edges, clear = _cut_evenly(bands.change, mask, top, bottom, count)
        fits = [_row(bands.change, mask, a, b) for a, b in pairwise(edges)]
        if clear >= CLEAR and all(fit is not None for fit in fits):
            found.append((clear, fits))
    found.sort(key=lambda one: -one[0])
    return [fits for _, fits in found[:KEPT]]


def _cut_evenly(change: np.ndarray, mask: np.ndarray, top: int, bottom: int, count: int) -> tuple[list[int], float]:
    """Edges of ``count`` rows, each at the clearest line near its place, and how clear the faintest of them is."""
    pitch = (bottom - top) / count
    edges, clear = [top], 1.0 if count > 1 else 0.5
    for number in range(1, count):
        at = top + number * pitch
        reach = max(round(0.14 * pitch), 1)
        near = range(max(round(at) - reach, 1), min(round(at) + reach + 1, len(mask) - 1))
        shares = [float(change[line][mask[line - 1] & mask[line]].mean()) if mask[line].any() else 0.0 for line in near]
        best = int(np.argmax(shares))
        edges.append(near[best])
        clear = min(clear, shares[best])
    return [*edges, bottom], clear


def _row(change: np.ndarray, mask: np.ndarray, top: int, bottom: int) -> RowFit | None:
    """The row between two lines: from the first to the last column that the patch fills there, and ends sharply where
    no other row goes on: a gleam on the cloth does not."""
    height = bottom - top
    reach = max(round(0.3 * height), 1)
    ends = (top, mask[max(top - reach, 0) : top]), (bottom, mask[bottom : bottom + reach])
    whole = mask[top:bottom].mean(axis=0) > 0.6
    for line, beyond in ends:
        sharp = change[max(line - ABOUT, 0) : line + ABOUT + 1].max(axis=0) > SHARP
        sharp = cv2.dilate(sharp.astype(np.uint8)[None], np.ones((1, 2 * reach + 1)))[0].astype(bool)
        whole &= sharp | (beyond.any(axis=0) if len(beyond) else False)
    filled = np.flatnonzero(whole)
    if not len(filled):
        return None
    left, right = float(filled[0]), float(filled[-1]) + 1
    if not height <= right - left <= MOST_ASPECT * height:
        return None
    # a lone ribbon whose outer stripes have the ground's colour is wider than what is seen of it
    lacking = max(LEAST_ASPECT * height - (right - left), 0.0)
    return RowFit(left - lacking / 2, top, right + lacking / 2, bottom, 0, 0.0, 0.0, 0.0)
