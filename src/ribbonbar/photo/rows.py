"""Rows within a squared-up view: pairs of row edges between which upright stripes stand, stacked into a bar.

At a row's edge the colours change for most columns at once; within a row they stay. A row is therefore a pair of such
edges, a column belongs to it while the colour changes at both, and its stripes are the changes that run from the one
edge to the other.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from ribbonbar.photo.rectifying import LAB_WEIGHT, Rectified

LEAST_HEIGHT = 6  # pixels of the view
LEAST_ASPECT = 2.3  # a row is at least one ribbon, 32 x 10 mm, some 13 mm tall
MOST_ASPECT = 34.0
RIBBON_ASPECT = 3.2


@dataclass(frozen=True)
class RowFit:
    """One row in a view: its edges in pixels between pixel corners, and what speaks for it.

    ``stripes`` is how many stripe edges stand within; ``even`` (0..1) how constant columns are down the row; ``edged``
    (0..1) the share of its length with a colour change at its top and bottom; ``score`` sums these up in row heights.
    """

    left: float
    top: float
    right: float
    bottom: float
    stripes: int
    even: float
    edged: float
    score: float

    @property
    def height(self) -> float:
        return self.bottom - self.top

    @property
    def width(self) -> float:
        return self.right - self.left


def fit_rows(view: Rectified) -> tuple[list[RowFit], float]:
    """The best stack of rows in the view, top first, and its score; nothing and 0 when there is none."""
    sums = np.concatenate([np.zeros((1, *view.lab.shape[1:]), np.float32), np.cumsum(view.lab, axis=0)])
    change, noise = _change_down(view.lab)
    heights = _row_edges(change)
    rows = []
    for i, top in enumerate(heights):
        for bottom in heights[i + 1 :]:
            if LEAST_HEIGHT <= bottom - top <= view.lab.shape[1] / LEAST_ASPECT:
                row = _fit_row(sums, change, noise, top, bottom)
                if row is not None:
                    rows.append(row)
    return _best_stack(rows)


def _change_down(lab: np.ndarray) -> tuple[np.ndarray, float]:
    """How much the colour changes across each line between pixel rows, (H + 1, W) in 0..1; and the noise, in L*a*b*."""
    height, width = lab.shape[:2]
    smooth = cv2.blur(lab, (5, 1)) * LAB_WEIGHT
    pairs = smooth[1:] + smooth[:-1]
    steps = np.zeros((height + 1, width), np.float32)
    steps[2:-2] = 0.5 * np.sqrt(((pairs[2:] - pairs[:-2]) ** 2).sum(axis=2))
    noise = max(2.0, 1.6 * float(np.median(steps[2:-2:2, ::2])))
    return np.clip((steps - noise) / 10, 0, 1), noise


def _best_runs(gain: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For each row of (N, W) ``gain``: the largest sum over a run of columns, its start and its end."""
    sums = np.pad(np.cumsum(gain, axis=1), ((0, 0), (1, 0)))
    lowest = np.minimum.accumulate(sums, axis=1)
    rise = sums - lowest
    end = np.argmax(rise, axis=1)
    best = rise[np.arange(len(gain)), end]
    before = np.arange(sums.shape[1])[None] <= end[:, None]
    start = np.argmin(np.where(before, sums, np.inf), axis=1)
    return best, start, end


def _row_edges(change: np.ndarray) -> list[int]:
    """Lines where a long run of columns changes colour at once."""
    run, _, _ = _best_runs(change - 0.35)
    run = run.astype(np.float32)
    highest = cv2.dilate(run[:, None], np.ones((5, 1)))[:, 0]
    around = cv2.blur(run[:, None], (1, 31))[:, 0]
    lines = np.flatnonzero((run >= highest) & (run > 10) & (run > 1.2 * around))
    strongest = lines[np.argsort(-run[lines])[:16]]
    return sorted(int(line) for line in strongest)


def _fit_row(sums: np.ndarray, change: np.ndarray, noise: float, top: int, bottom: int) -> RowFit | None:
    height, width = bottom - top, change.shape[1]
    edged = change[max(top - 1, 0) : top + 2].max(axis=0) + change[bottom - 1 : bottom + 2].max(axis=0) - 1.2
    _, start, end = _best_runs(edged[None])
    left, right = int(start[0]), int(end[0])
    if not LEAST_ASPECT * height <= right - left <= MOST_ASPECT * height:
        return None
    inset = max(round(0.12 * height), 1)
    cuts = np.round(np.linspace(top + inset, bottom - inset, 4)).astype(int)
    if cuts[1] <= cuts[0] or cuts[3] <= cuts[2]:
        return None
    thirds = [(sums[b] - sums[a]) / max(b - a, 1) for a, b in zip(cuts[:-1], cuts[1:], strict=True)]
    colours = np.median(thirds, axis=0)
    unlike = np.abs((np.array([thirds[0], thirds[2]]) - colours) * LAB_WEIGHT).sum(axis=2).mean(axis=0)
    even = np.clip(1 - (unlike - noise) / 16, 0, 1)
    reach = max(round(0.15 * height), 1)
    stripe = np.minimum(
        _change_along(colours, noise) * 1.2,
        np.minimum(
            *(
                cv2.dilate(_change_along(third, noise)[None], np.ones((1, 2 * reach + 1)))[0]
                for third in (thirds[0], thirds[2])
            )
        ),
    )
    peaks = _peaks(stripe)
    left = _snap(left, peaks, edged, height)
    right = len(edged) - _snap(len(edged) - right, len(edged) - peaks[::-1], edged[::-1], height)
    if right - left < LEAST_ASPECT * height:
        return None
    stripes = int(((peaks > left + 0.1 * height) & (peaks < right - 0.1 * height)).sum())
    ribbons = (right - left) / height / RIBBON_ASPECT
    constant = float(even[left:right].mean())
    support = float(edged[left:right].sum()) / height
    # every ribbon but the odd plain one shows a stripe, so a long band without any is no row
    score = (0.5 * support + 0.4 * min(stripes, 8 * ribbons)) * constant**2 - 2.0 * max(
        ribbons - 1.4 - 0.8 * stripes, 0
    )
    return RowFit(
        left, top, right, bottom, stripes, constant, float(np.clip(edged[left:right] / 0.8, 0, 1).mean()), score
    )


def _change_along(colours: np.ndarray, noise: float) -> np.ndarray:
    """How much a profile (W, 3) changes at each line between columns, in 0..1, (W,) indexed by the column after it."""
    smooth = (colours * LAB_WEIGHT).astype(np.float32)
    steps = np.zeros(len(colours), np.float32)
    pairs = smooth[1:] + smooth[:-1]
    steps[2:-1] = 0.5 * np.sqrt(((pairs[2:] - pairs[:-2]) ** 2).sum(axis=1))
    return np.clip((steps - noise) / 12, 0, 1)


def _peaks(strength: np.ndarray) -> np.ndarray:
    highest = cv2.dilate(strength[None], np.ones((1, 5)))[0]
    peaks = np.flatnonzero((strength >= highest) & (strength > 0.2))
    return peaks[np.diff(peaks, prepend=-9) > 1]


def _snap(column: int, peaks: np.ndarray, edged: np.ndarray, height: float) -> int:
    """A row's left end moved to the outermost stripe edge near it.

    What lies between two stripe edges belongs to the row only if it ends above and below where the row does: a shadow
    beside the bar does not.
    """
    near = peaks[np.abs(peaks - column) <= 0.6 * height]
    if not len(near):
        return column
    end = int(near[-1])
    for peak in near[-2::-1]:
        if edged[peak + 1 : end].mean() < 0.0 and end - peak > 2:
            break
        end = int(peak)
    return end


def _best_stack(rows: list[RowFit]) -> tuple[list[RowFit], float]:
    """Rows of like height, one under the other, whose scores sum up highest."""
    rows = sorted((row for row in rows if row.score > 0), key=lambda row: (row.top, row.bottom))
    total = [row.score for row in rows]
    above = [-1] * len(rows)
    for j, low in enumerate(rows):
        for i, high in enumerate(rows[:j]):
            gap = (low.top - high.bottom) / low.height
            shared = min(low.right, high.right) - max(low.left, high.left)
            unlike = abs(np.log(low.height / high.height))
            if not -0.12 <= gap <= 0.4 or unlike > 0.3 or shared < 0.6 * min(low.width, high.width):
                continue
            value = total[i] + low.score - 2 * unlike - abs(gap)
            if value > total[j]:
                total[j], above[j] = value, i
    if not rows:
        return [], 0.0
    at = int(np.argmax(total))
    score, stack = float(total[at]), []
    while at >= 0:
        stack.append(rows[at])
        at = above[at]
    return stack[::-1], score
