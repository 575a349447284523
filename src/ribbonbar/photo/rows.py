"""Rows within a squared-up view: pairs of row edges between which upright stripes stand, stacked into a bar.

At a row's edge the colours change for most columns at once; within a row they stay. A row is therefore a pair of such
edges, a column belongs to it while the colour changes at both, and its stripes are the changes that run from the one
edge to the other.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from ribbonbar.photo.rectifying import length

LEAST_HEIGHT = 6  # pixels of the view
LEAST_ASPECT = 2.3  # a row is at least one ribbon, 32 x 10 mm, some 13 mm tall
MOST_ASPECT = 34.0
RIBBON_ASPECT = 3.2
_ALONG = np.full(9, 1 / 9)  # columns averaged
_ACROSS = np.array([-0.5, -0.5, 0.5, 0.5])  # two lines against the next two
TWISTED = 0.3  # how much more stripes may lean in one half than in the other: at 40 degrees, seldom more than 0.2


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


@dataclass(frozen=True)
class Bands:
    """A view prepared for looking at bands of it: ``sums`` (H + 1, W, 3) of the features above each line, ``change``
    (H + 1, W) in 0..1 of colour across each line, and the ``noise`` of such changes."""

    features: np.ndarray
    sums: np.ndarray
    change: np.ndarray
    noise: float

    @staticmethod
    def of(features: np.ndarray) -> "Bands":
        height, width = features.shape[:2]
        sums = np.zeros((height + 1, width, 3), np.float32)
        for line, colours in enumerate(features):  # a fifth of the time of np.cumsum along the first axis
            np.add(sums[line], colours, out=sums[line + 1])
        steps = np.zeros((height + 1, width), np.float32)
        steps[2:-2] = length(cv2.sepFilter2D(features, cv2.CV_32F, _ALONG, _ACROSS)[2:-1])
        noise = float(np.median(steps[2:-2:2, ::2]))
        change = np.clip((steps - max(1.5, 1.8 * noise)) / 8, 0, 1)
        return Bands(features, sums, change, max(2.0, 1.8 * noise))

    def profile(self, top: int, bottom: int) -> "RowProfile | None":
        """What the band between two lines shows; None when it is too narrow to look at."""
        height = bottom - top
        inset = max(round(0.12 * height), 1)
        cuts = np.round(np.linspace(top + inset, bottom - inset, 4)).astype(int)
        if min(np.diff(cuts)) < 1:
            return None
        above, below = (self.change[max(line - 1, 0) : line + 2].max(axis=0) for line in (top, bottom))
        first, middle, last = (self.sums[cuts[1:]] - self.sums[cuts[:-1]]) / np.diff(cuts)[:, None, None]
        colours = np.maximum(np.minimum(first, middle), np.minimum(np.maximum(first, middle), last))
        unlike = (np.abs(first - colours) + np.abs(last - colours)).sum(axis=1) / 2
        around = np.ones((1, 2 * max(round(0.15 * height), 1) + 1))
        high, low = (cv2.dilate(change_along(third, self.noise)[None], around)[0] for third in (first, last))
        stripe = np.minimum(change_along(colours, self.noise) * 1.2, np.minimum(high, low))
        even = np.clip(1 - (unlike - self.noise) / 16, 0, 1)
        return RowProfile(height, self.noise, colours, even, above + below - 1.2, stripe)


def fit_rows(bands: Bands) -> tuple[list[RowFit], float]:
    """The best stack of rows in the view, top first, and its score; nothing and 0 when there is none."""
    lines = _row_edges(bands.change)
    tallest = bands.features.shape[1] / LEAST_ASPECT
    rows = []
    for i, top in enumerate(lines):
        for bottom in lines[i + 1 :]:
            if LEAST_HEIGHT <= bottom - top <= tallest:
                row = _fit_row(bands, top, bottom)
                if row is not None:
                    rows.append(row)
    return _best_stack(rows)


def _rises(gain: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Sums (..., W + 1) of ``gain`` (..., W) before each place, and the largest sum over a run that ends there."""
    sums = np.zeros((*gain.shape[:-1], gain.shape[-1] + 1), gain.dtype)
    np.cumsum(gain, axis=-1, out=sums[..., 1:])
    return sums, sums - np.minimum.accumulate(sums, axis=-1)


def _best_run(gain: np.ndarray) -> tuple[int, int]:
    """Start and end of the run of columns with the largest sum of ``gain`` (W,)."""
    sums, rises = _rises(gain)
    end = int(rises.argmax())
    return int(sums[: end + 1].argmin()), end


def _row_edges(change: np.ndarray) -> list[int]:
    """Lines where a long run of columns changes colour at once."""
    run = _rises(change - 0.35)[1].max(axis=1)
    highest = cv2.dilate(run[:, None], np.ones((5, 1)))[:, 0]
    around = cv2.blur(run[:, None], (1, 31))[:, 0]
    lines = np.flatnonzero((run >= highest) & (run > 10) & (run > 1.2 * around))
    strongest = lines[np.argsort(-run[lines])[:16]]
    return sorted(int(line) for line in strongest)


@dataclass(frozen=True)
class RowProfile:
    """What a band between two row edges shows, column by column.

    ``colours`` (W, 3) the middle of three levels; ``even`` (W,) 0..1, how constant down the band; ``edged`` (W,) -1.2
    to 0.8, positive where colours change at both its top and bottom; ``stripe`` (W,) 0..1, change of colour along the
    row that runs from its top to its bottom.
    """

    height: float
    noise: float
    colours: np.ndarray
    even: np.ndarray
    edged: np.ndarray
    stripe: np.ndarray

    def mirrored(self) -> "RowProfile":
        columns = (self.colours, self.even, self.edged, self.stripe)
        return RowProfile(self.height, self.noise, *(values[::-1] for values in columns))


def _fit_row(bands: Bands, top: int, bottom: int) -> RowFit | None:
    height = bottom - top
    profile = bands.profile(top, bottom)
    if profile is None:
        return None
    gain = profile.edged + 0.8 * _between_stripes(profile.stripe, height)
    left, right = _best_run(gain)
    if not LEAST_ASPECT * height <= right - left <= MOST_ASPECT * height:
        return None
    peaks, edged = stripe_edges(profile.stripe), profile.edged
    left = _snap(left, peaks, gain, height)
    right = len(gain) - _snap(len(gain) - right, len(gain) - peaks[::-1], gain[::-1], height)
    if right - left < LEAST_ASPECT * height:
        return None
    stripes = int(((peaks > left + 0.1 * height) & (peaks < right - 0.1 * height)).sum())
    ribbons = (right - left) / height / RIBBON_ASPECT
    constant = float(profile.even[left:right].mean())
    support = float(edged[left:right].sum()) / height
    unlike = unlike_ground(profile, left, right)
    if unlike < 0.4:
        return None
    score = (0.5 * support + 0.4 * min(stripes, 8 * ribbons)) * constant**2 * min(1.3 * unlike, 1.0)
    score -= 2.0 * max(ribbons - 1.4 - 0.8 * stripes, 0)  # every ribbon but the odd plain one shows a stripe
    return RowFit(
        left, top, right, bottom, stripes, constant, float(np.clip(edged[left:right], 0, 0.8).mean()) / 0.8, score
    )


def unlike_ground(profile: RowProfile, left: float, right: float) -> float:
    """Share of the row's columns, 0..1, that differ from what lies beside the row; 1 where nothing lies beside it."""
    height = profile.height
    own = profile.colours[round(left) : round(right)]
    least = np.full(len(own), np.inf)
    for a, b in ((left - 1.5 * height, left - 0.3 * height), (right + 0.3 * height, right + 1.5 * height)):
        beside = profile.colours[max(round(a), 0) : max(round(b), 0)]
        if len(beside) >= 0.3 * height:
            least = np.minimum(least, departure(own, np.median(beside, axis=0)))
    return float(np.clip((least - profile.noise) / 4, 0, 1).mean())


def departure(colours: np.ndarray, ground: np.ndarray) -> np.ndarray:
    """How far each colour (N, 3) is from a ground's, a shadow or a glow on that ground counting less, (N,)."""
    step = colours - ground
    step[:, 0] *= np.where(step[:, 0] < 0, 0.4, 0.8)
    return np.sqrt((step**2).sum(axis=1))


def _between_stripes(stripe: np.ndarray, height: int) -> np.ndarray:
    """How surely each column has stripe edges near by on both sides, 0..1, (W,)."""
    kernel = np.ones((1, height))
    before = cv2.dilate(stripe[None], kernel, anchor=(height - 1, 0))[0]
    after = cv2.dilate(stripe[None], kernel, anchor=(0, 0))[0]
    return np.minimum(before, after)


def change_along(colours: np.ndarray, noise: float) -> np.ndarray:
    """How much a profile (W, 3) changes at each line between columns, in 0..1, (W,) indexed by the column after it."""
    steps = np.zeros(len(colours), np.float32)
    pairs = colours[1:] + colours[:-1]
    steps[2:-1] = 0.5 * np.sqrt(((pairs[2:] - pairs[:-2]) ** 2).sum(axis=1))
    return np.clip((steps - noise) / 12, 0, 1)


def stripe_edges(strength: np.ndarray) -> np.ndarray:
    if not len(strength):
        return np.zeros(0, int)
    highest = cv2.dilate(strength[None], np.ones((1, 5)))[0]
    peaks = np.flatnonzero((strength >= highest) & (strength > 0.2))
    return peaks[np.diff(peaks, prepend=-9) > 1]


def _snap(column: int, peaks: np.ndarray, gain: np.ndarray, height: float) -> int:
    """A row's left end moved to the outermost stripe edge near it.

    What lies between two stripe edges belongs to the row only if it ends above and below where the row does: a shadow
    beside the bar does not.
    """
    near = peaks[np.abs(peaks - column) <= 0.6 * height]
    if not len(near):
        return column
    end = int(near[-1])
    for peak in near[-2::-1]:
        if gain[peak + 1 : end].mean() < 0.0 and end - peak > 2:
            break
        end = int(peak)
    return end


def _best_stack(rows: list[RowFit]) -> tuple[list[RowFit], float]:
    """Rows of like height, one under the other, whose scores sum up highest.

    Where exactly one row's height lies between two of them, there is a row: one of plain or banded ribbons, that shows
    no stripes of its own.
    """
    rows = sorted((row for row in rows if row.score > 0), key=lambda row: (row.top, row.bottom))
    total = [row.score for row in rows]
    above = [-1] * len(rows)
    for j, low in enumerate(rows):
        for i, high in enumerate(rows[:j]):
            gap = (low.top - high.bottom) / low.height
            shared = min(low.right, high.right) - max(low.left, high.left)
            unlike = abs(np.log(low.height / high.height))
            skipped = 0.85 <= gap <= 1.3 and shared > 0.8 * max(low.width, high.width)
            if not (-0.12 <= gap <= 0.4 or skipped) or unlike > 0.3 or shared < 0.6 * min(low.width, high.width):
                continue
            if high.stripes == 0 and above[i] >= 0:
                continue  # only the first or the last row can be a lone plain ribbon
            value = total[i] + low.score - 2 * unlike - (1.5 if skipped else abs(gap))
            if value > total[j]:
                total[j], above[j] = value, i
    if not rows:
        return [], 0.0
    at = int(np.argmax(total))
    score, stack = float(total[at]), [rows[at]]
    while above[at] >= 0:
        low, at = rows[at], above[at]
        high = rows[at]
        if low.top - high.bottom > 0.6 * low.height:
            left, right = min(low.left, high.left), max(low.right, high.right)
            stack.append(RowFit(left, high.bottom, right, low.top, 0, 0.0, 0.0, 0.0))
        stack.append(high)
    return stack[::-1], score


def lean(features: np.ndarray, fits: list[RowFit]) -> tuple[float, float]:
    """How far stripes still lean: x moves by c + m x per pixel downward, x counted from the view's left edge.

    The upper and the lower third of each row show the same stripes; the shift that lays one on the other is the lean.
    Where one half leans far more than the other, it is diagonals that do.
    """
    sides: list[tuple[float, float, float]] = []
    left, right = min(fit.left for fit in fits), max(fit.right for fit in fits)
    middle = (left + right) / 2
    for start, end in ((left, middle), (middle, right)):
        shift = _lean_between(features, fits, start, end)
        if shift is not None:
            sides.append(((start + end) / 2, *shift))
    if not sides:
        return 0.0, 0.0
    if len(sides) == 1:
        return sides[0][1], 0.0
    (x0, c0, w0), (x1, c1, w1) = sides
    if abs(c1 - c0) > TWISTED:
        return min(c0, c1, key=abs), 0.0
    m = (c1 - c0) / (x1 - x0) * min(w0, w1) / max(w0, w1)
    mean = (w0 * c0 + w1 * c1) / (w0 + w1)
    return mean - m * (w0 * x0 + w1 * x1) / (w0 + w1), m


def _lean_between(features: np.ndarray, fits: list[RowFit], start: float, end: float) -> tuple[float, float] | None:
    """Shift per pixel downward of the stripes between two columns, and how surely (the cost's depth)."""
    height = float(np.median([fit.height for fit in fits]))
    reach = max(round(0.3 * height), 2)
    shifts = np.arange(-reach, reach + 1)
    cost = np.zeros(len(shifts))
    for fit in fits:
        a, b = round(max(start, fit.left)), round(min(end, fit.right))
        if b - a < 2 * reach + 4:
            continue
        third = max(round(0.28 * fit.height), 1)
        inset = round(0.1 * fit.height)
        high = (features[round(fit.top) + inset :][:third].mean(axis=0))[a:b]
        low = (features[: round(fit.bottom) - inset][-third:].mean(axis=0))[a:b]
        inner = high[reach:-reach]
        for k, shift in enumerate(shifts):
            moved = low[reach + shift : len(low) - reach + shift]
            cost[k] += np.minimum(np.abs(moved - inner).sum(axis=1), 25).sum()
    depth = float(np.median(cost) - cost.min())
    at = int(np.argmin(cost))
    if depth <= 0 or at in (0, len(shifts) - 1):
        return None
    bend = cost[at - 1] - 2 * cost[at] + cost[at + 1]
    best = shifts[at] + (0.5 * (cost[at - 1] - cost[at + 1]) / bend if bend > 0 else 0.0)
    return float(best) / (0.52 * height), depth
