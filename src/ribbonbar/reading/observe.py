"""A flat strip as the decoder sees it: cells of cube-root light, emblems set apart, one segment cut out at a time."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from ribbonbar.photo.model import Strip
from ribbonbar.reading.evidence import coarse_scatter
from ribbonbar.reading.templates import COLUMNS, ROWS, TRIMMED

SAMPLES_PER_MM = 3.0
TOE = 0.002
"""Added to linear light before the cube root, so that noise in the dark stays small."""
EMBLEM_CONTRAST = 0.05
"""Cube-root light: what is less than this from the ribbon's edge rows is cloth, not an emblem."""


CLIPPED = 0.955
"""Linear light from which a channel counts as clipped: 250 of 255 encoded."""
FRAME_RUN, ALIKE_RUN = 61, 13
"""Columns (20 mm) over which the outermost rows must differ from the next for a metal frame: no emblem is so long; and
how many of them (4 mm) a stripe or an emblem in it may hide at a time, by looking like metal."""
GOING_ON, MOST_COLUMNS, STRIPED = 0.55, 0.67, 0.03
"""How much of the inner rows' contrast the outer ones must show, in so many of the columns, for the same stripes to run
through both, and no metal (ten frames on rendered pictures: at most 0.06; shadows, bleeding hue and large emblems: 0.74
to 1.3); and cube-root light, standard deviation, by which a ribbon must have stripes for that to be seen."""
IN_SIGHT = 0.85
"""Share of its columns in which a frame must be seen all the same: cloth and noise differ here and there."""
LEAN_MOST, LEAN_WINDOW, LEAN_MAJORITY = 12, 32, 0.6
"""Columns that stripes may lean over the seen height (25 degrees), columns of a window that votes on it, and the share
of the votes that settles it."""
MOST_HEARD = 0.06
"""Cube-root light: contrast from which a window's vote counts in full, so that one stark diagonal outvotes no row."""
CLEAR_SLOPE, CLEAR_STEP, FLAT, APART = 0.02, 0.06, 0.12, 3
"""Cube-root light: what an edge must have, a column and in all, for its width to be measured; the share of its steepest
slope at which it ends; and the columns to its next neighbour."""
OWN_BLUR = 0.75
"""Columns (standard deviation) by which a sharp edge is widened by cells and by differences over two of them (measured
on sharp pictures)."""
LUMA = np.array([0.299, 0.587, 0.114], np.float32)
"""What red, green and blue make of lightness where cameras and JPEG part it from hue (ITU-R BT.601)."""
LEAST_CONTRAST = 1e-4
"""Cube-root light, summed over windows: below it there are no stripes whose lean could be told."""


@dataclass(frozen=True)
class RowView:
    """``cells`` (ROWS, W, 3) float32 cube-root light, SAMPLES_PER_MM columns a nominal millimetre; ``cloth`` (ROWS, W)
    1 where the cell is cloth, 0 where something stands out from its column (emblem, glint); ``clipped`` (ROWS, W, 3)
    1 where the camera had no more room. ``photo_pixels_per_mm`` says how fine the photograph is; ``start`` and ``end``
    are the columns between which the row was found, beyond which the strip goes on, and ``reach`` (2,) those between
    which the bar's other rows were; ``taper`` says how much wider than on the left the strip shows a ribbon on the
    right: the logarithm, taken out of the columns.

    For quick comparisons: ``profile`` (3, W), the mean of each column's cloth; ``edges`` (3, 2, W), the outermost rows
    in pairs, where emblems seldom reach; ``scatter`` (ROWS / 2, W / 2), squared departure from the profile.
    """

    cells: np.ndarray
    cloth: np.ndarray
    clipped: np.ndarray
    photo_pixels_per_mm: float
    start: float
    end: float
    reach: tuple[float, float]
    taper: float
    profile: np.ndarray
    edges: np.ndarray
    scatter: np.ndarray

    def on_strip(self, columns: np.ndarray) -> np.ndarray:
        """Where on the strip columns lie, as shares of its width."""
        return tapered(columns, self.start, self.end, self.taper) / self.cells.shape[1]


def root(linear: np.ndarray) -> np.ndarray:
    """Linear light to the space the reading compares in: nearly even to the eye, where light is nearly a gain."""
    return np.cbrt(np.maximum(linear, 0.0) + TOE)


def fineness(strips: Sequence[Strip], height_mm: float = 10.0) -> float:
    """Photo pixels a millimetre of one bar, its rows taken as ``height_mm`` tall on average."""
    return float(np.median([strip.pixels.shape[0] / strip.scale for strip in strips])) / height_mm


def view(strip: Strip, pixels_per_mm: float) -> RowView:
    """The strip in cells, TRIMMED of its height left out above and below; ``pixels_per_mm`` is the whole bar's, since
    one row's own height says less of its scale than all rows' together."""
    height, width = strip.pixels.shape[:2]
    columns = max(8, round(width / strip.scale / pixels_per_mm * SAMPLES_PER_MM))
    inner = strip.pixels[round(height * TRIMMED) : height - round(height * TRIMMED)]
    ends = np.clip(np.array(strip.ends or (0.0, width)) * columns / width, 0.0, columns)
    cells = root(_in_cells(inner, columns))
    lean = _lean(edge_rows(cells), *ends)
    if lean.any():
        inner = _upright(inner, lean * width / columns, ends * width / columns)
        cells = root(_in_cells(inner, columns))
    cells = cells.astype(np.float32)
    clipped = (cells > root(np.array(CLIPPED))).astype(np.float32)
    start, end = ends
    row = slice(int(start), max(int(end), int(start) + 2))
    cells = _lit_evenly(cells, row)
    cloth = _cloth(cells, row)
    reach = np.array(strip.reach or (-np.inf, np.inf)) * columns / width
    return _view(cells, cloth, clipped, pixels_per_mm, (float(start), float(end)), (reach[0], reach[1]), 0.0)


def _lit_evenly(cells: np.ndarray, row: slice) -> np.ndarray:
    """Cells without what makes the whole row lighter or darker from top to bottom: its rounding, a shadow's edge along
    it. Most columns of the ``row`` say so; emblems and diagonals are too few."""
    brightness = cells[:, row].mean(-1)
    share = np.median(brightness / np.maximum(np.median(brightness, axis=0), 1e-3), axis=1)
    return cells / np.clip(share, 0.5, 2.0)[:, None, None]


def _view(
    cells: np.ndarray,
    cloth: np.ndarray,
    clipped: np.ndarray,
    fine: float,
    ends: tuple[float, float],
    reach: tuple[float, float],
    taper: float,
) -> RowView:
    profile = _mean_of_cloth(cells, cloth)
    seen = by_channel(profile), by_channel(edge_rows(cells)), coarse_scatter(cells - profile)
    return RowView(cells, cloth, clipped, fine, *ends, reach, taper, *seen)


def untapered(row: RowView, taper: float) -> RowView:
    """The row with a taper taken out of its columns: a ribbon is as wide as the next, wherever it stands."""
    if not taper:
        return row
    at = tapered(np.arange(row.cells.shape[1]) + 0.5, row.start, row.end, taper)[None]
    cells, clipped = (
        np.ascontiguousarray(_sampled(np.moveaxis(each, 2, 1), at)[:, :, 0].swapaxes(1, 2))
        for each in (row.cells, row.clipped)
    )
    cloth = (_sampled(row.cloth, at)[:, 0] > 0.5).astype(np.float32)
    return _view(cells, cloth, clipped, row.photo_pixels_per_mm, (row.start, row.end), row.reach, taper)


def tapered(columns: np.ndarray, start: float, end: float, taper: float | np.ndarray) -> np.ndarray:
    """Where columns of even scale stand in a row from ``start`` to ``end`` whose last column is ``exp(taper)`` times
    wider than its first: the projective map of the row onto itself that does so."""
    along = (columns - start) / (end - start)
    return start + (end - start) * along / (1.0 + np.expm1(taper / 2) * (1.0 - along))


@dataclass(frozen=True)
class Softness:
    """By how many columns (standard deviation) a bar's edges are blurred: ``lightness`` by lens, motion, the camera's
    smoothing and stripes that lean; ``hue`` by more, since a camera sees it at every other pixel and JPEG keeps it so.
    0 where no edge stands clear."""

    lightness: float = 0.0
    hue: float = 0.0


def softness(views: Sequence[RowView]) -> Softness:
    """How soft the bar's edges are.

    A step blurred by a Gaussian is as high as its steepest slope times sigma times the root of two pi; the median over
    all clear edges, less what the columns themselves blur.
    """
    profiles = [row.profile[:, max(int(row.start), 0) : int(row.end) + 1] for row in views]
    lightness = [np.repeat((LUMA @ profile)[None], 3, axis=0) for profile in profiles]
    hue = [profile - light for profile, light in zip(profiles, lightness, strict=True)]
    return Softness(*(_softness([w for each in seen for w in _edge_widths(each)]) for seen in (lightness, hue)))


def _softness(widths: list[float]) -> float:
    return float(np.sqrt(max(np.median(widths) ** 2 - OWN_BLUR**2, 0.0))) if widths else 0.0


def _edge_widths(profile: np.ndarray) -> list[float]:
    """Standard deviations, in columns, of the clear edges of a profile (3, W)."""
    slope = np.sqrt((np.gradient(profile, axis=1) ** 2).sum(0)) if profile.shape[1] > 2 else np.zeros(0)
    widths = []
    for at in range(APART, len(slope) - APART):
        steepest = slope[at]
        if steepest < CLEAR_SLOPE or steepest < slope[at - APART : at + APART + 1].max():
            continue
        first = last = at
        while first > 0 and FLAT * steepest < slope[first] and slope[first - 1] <= slope[first]:
            first -= 1
        while last < len(slope) - 1 and FLAT * steepest < slope[last] and slope[last + 1] <= slope[last]:
            last += 1
        step = float(np.linalg.norm(profile[:, last] - profile[:, first]))
        if step > CLEAR_STEP:
            widths.append(step / (steepest * np.sqrt(2 * np.pi)))
    return widths


def _in_cells(linear: np.ndarray, columns: int) -> np.ndarray:
    """Linear light averaged, or interpolated where that is finer, to (ROWS, columns, 3)."""
    width = linear.shape[1]
    if linear.shape[0] > ROWS and width <= columns:
        linear = cv2.resize(linear, (width, ROWS), interpolation=cv2.INTER_AREA)
    return cv2.resize(linear, (columns, ROWS), interpolation=cv2.INTER_AREA if width > columns else cv2.INTER_LINEAR)


def _lean(edges: np.ndarray, start: float, end: float) -> np.ndarray:
    """How far (2,) stripes lean over the seen height at a quarter and at three quarters of the row, in columns.

    ``edges`` (2, W, 3) are the row's top and bottom. Every window of the row votes, with its contrast for a weight, for
    the shift that makes its top and bottom most alike; without a clear majority (slanted patterns vote for anything)
    stripes count as upright.
    """
    apart = 1.0 - 2.0 / ROWS  # the two pairs of rows lie this part of the seen height from each other
    shifts = np.arange(-LEAN_MOST, LEAN_MOST + 1)
    places = np.arange(int(start) + LEAN_MOST, int(end) - LEAN_MOST - LEAN_WINDOW, LEAN_WINDOW // 2)
    if len(places) < 4:
        return np.zeros(2)
    at = places[:, None] + np.arange(LEAN_WINDOW)
    unlike = np.stack(
        [np.minimum(np.abs(edges[0, at - s // 2] - edges[1, at + s - s // 2]).sum(-1), 0.6).mean(1) for s in shifts]
    )
    unlike += 1e-3 * np.abs(shifts)[:, None]
    votes, weight = shifts[unlike.argmin(0)], np.minimum(edges[:, at].std(axis=2).mean((0, 2)), MOST_HEARD)
    found = []
    for half in (slice(0, len(places) // 2), slice(len(places) // 2, None)):
        if weight[half].sum() < LEAST_CONTRAST:
            return np.zeros(2)
        order = np.argsort(votes[half], kind="stable")
        share = np.cumsum(weight[half][order]) / weight[half].sum()
        median = votes[half][order][min(int(np.searchsorted(share, 0.5)), len(order) - 1)]
        agreeing = weight[half][np.abs(votes[half] - median) <= 2].sum() / weight[half].sum()
        found.append(median / apart if agreeing >= LEAN_MAJORITY and abs(median) > 1 else 0.0)
    agree = abs(found[0] - found[1]) <= LEAN_MOST / 2 and found[0] * found[1] > 0
    return np.array(found) if agree else np.zeros(2)


def _upright(linear: np.ndarray, lean: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """The strip with its stripes made upright; ``lean`` (2,) and ``ends`` (2,) in strip pixels."""
    height, width = linear.shape[:2]
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    along = (x - ends[0]) / max(ends[1] - ends[0], 1.0)
    here = lean[0] + (np.clip(along, 0.0, 1.0) - 0.25) * 2.0 * (lean[1] - lean[0])
    shifted = x + here * ((y + 0.5) / height - 0.5)
    return cv2.remap(linear, shifted.astype(np.float32), y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def by_channel(cells: np.ndarray) -> np.ndarray:
    """(..., 3) to (3, ...)."""
    return np.ascontiguousarray(np.moveaxis(cells, -1, 0))


def coarser(columns: np.ndarray, by: int) -> np.ndarray:
    """(..., C) to (..., C / by), averaged."""
    return sum(columns[..., k::by] for k in range(by)) / by


OUTERMOST = [0, 1, -2, -1]
"""The rows where emblems seldom reach."""


def edge_rows(cells: np.ndarray) -> np.ndarray:
    """The two outermost pairs of rows, each averaged: (..., R, C, 3) to (..., 2, C, 3)."""
    first, second, *_, last_but_one, last = np.moveaxis(cells, -3, 0)
    return np.stack([(first + second) / 2, (last_but_one + last) / 2], axis=-3)


def _mean_of_cloth(cells: np.ndarray, cloth: np.ndarray) -> np.ndarray:
    """(..., ROWS, C, 3) to (..., C, 3)."""
    return (cells * cloth[..., None]).sum(-3) / cloth.sum(-2)[..., None]


def _cloth(cells: np.ndarray, row: slice) -> np.ndarray:
    """Which cells (ROWS, W) look like the outermost rows of their own column, where emblems do not reach.

    The rounding of the cloth is the same in every column of the ``row`` and is taken out first. What stands out is
    widened by a cell: an emblem's rim and shadow belong to it. Within a metal frame the third rows count as outermost.
    """
    outer, inner = 0.5 * (cells[0] + cells[-1]), 0.5 * (cells[2] + cells[-3])
    frame = _frame(outer, inner)
    apart = cells - np.where(frame[:, None], inner, outer)
    apart = np.abs(apart - np.median(apart[:, row], axis=1, keepdims=True)).max(-1)
    noise = float(np.median(np.abs(cells[0] - cells[-1])[row]))
    emblem = (apart > EMBLEM_CONTRAST + 1.5 * noise).astype(np.uint8)
    emblem = cv2.dilate(cv2.morphologyEx(emblem, cv2.MORPH_OPEN, np.ones((1, 3), np.uint8)), np.ones((3, 3), np.uint8))
    emblem[[0, -1]] = frame
    emblem[[1, -2]] |= frame
    emblem[[2, -3]] &= ~frame
    return 1.0 - emblem.astype(np.float32)


def _frame(outer: np.ndarray, inner: np.ndarray) -> np.ndarray:
    """Columns (W,) of metal frames: those in which the ``outer`` rows (W, 3) differ from the ``inner`` for long, and do
    not show the same stripes."""
    differs = np.abs(outer - inner).max(-1) > EMBLEM_CONTRAST
    closed = cv2.morphologyEx(differs[None].astype(np.uint8), cv2.MORPH_CLOSE, np.ones((1, ALIKE_RUN), np.uint8))
    frame = np.zeros_like(differs)
    for start, stop in _runs(differs) + _runs(closed[0].astype(bool)):
        long = stop - start >= FRAME_RUN and differs[start:stop].mean() > IN_SIGHT
        frame[start:stop] |= long and not _go_on(outer[start:stop], inner[start:stop])
    return frame


def _go_on(outer: np.ndarray, inner: np.ndarray) -> bool:
    """Whether the stripes of the inner rows (W, 3) go on to the outer ones, in other light; an emblem in the inner rows
    alone is among the columns left out, those that differ most."""
    apart = np.abs(outer - inner).max(-1)
    least = apart <= np.quantile(apart, MOST_COLUMNS)
    out, within = outer[least] - outer[least].mean(0), inner[least] - inner[least].mean(0)
    return bool(within.std() > STRIPED and (out * within).sum() > GOING_ON * (within**2).sum())


def _runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """Where a mask (W,) is set: from, to before."""
    steps = np.flatnonzero(np.diff(np.r_[False, mask, False]))
    return list(zip(steps[::2].tolist(), steps[1::2].tolist(), strict=True))


@dataclass(frozen=True)
class Segments:
    """Cut-out ribbons: ``cells`` (S, ROWS, COLUMNS, 3), ``cloth`` (S, ROWS, COLUMNS), ``clipped`` like ``cells``."""

    cells: np.ndarray
    cloth: np.ndarray
    clipped: np.ndarray

    def covered(self, number: int) -> float:
        """Share of a segment's columns in which something stands out from the cloth, a frame along its edges aside."""
        return float((self.cloth[number, 2:-2] == 0).any(0).mean())

    @cached_property
    def weight(self) -> np.ndarray:
        """How many rows of each column are cloth: (S, COLUMNS), never 0 (the outermost rows always count)."""
        return self.cloth.sum(1)

    @cached_property
    def seen_clipped(self) -> np.ndarray:
        """Share of each column's cloth that is clipped: (S, COLUMNS, 3)."""
        return (self.clipped * self.cloth[..., None]).sum(1) / self.weight[..., None]

    def pick(self, numbers: list[int] | np.ndarray) -> "Segments":
        """Some of the segments, in that order."""
        return Segments(self.cells[numbers], self.cloth[numbers], self.clipped[numbers])

    @cached_property
    def profile(self) -> np.ndarray:
        """Mean of the cloth in each column: (S, COLUMNS, 3)."""
        return _mean_of_cloth(self.cells, self.cloth)


@dataclass(frozen=True)
class Outlines:
    """Cut-out ribbons for quick comparisons, at half the columns: ``profile`` (3, S, COLUMNS / 2), ``edges``
    (3, S, COLUMNS), the upper beside the lower, ``scatter`` (S, ROWS / 2, COLUMNS / 2)."""

    profile: np.ndarray
    edges: np.ndarray
    scatter: np.ndarray

    def coarser(self, by: int) -> "Outlines":
        """The same with ``by`` columns averaged into one."""
        return Outlines(coarser(self.profile, by), coarser(self.edges, by), self.scatter)


def outline(row: RowView, starts: np.ndarray, ends: np.ndarray) -> Outlines:
    """Quick view of the segments between ``starts`` and ``ends`` (S,), in columns of the row."""
    at = starts[:, None] + (np.arange(COLUMNS // 2) + 0.5) / (COLUMNS // 2) * (ends - starts)[:, None]
    nearest = np.clip((at / 2).astype(int), 0, row.scatter.shape[1] - 1)
    return Outlines(
        _sampled(row.profile, at),
        side_by_side(_sampled(row.edges, at)),
        np.moveaxis(row.scatter.take(nearest, axis=1), 0, 1),
    )


def side_by_side(edges: np.ndarray) -> np.ndarray:
    """The upper and the lower edge, (3, 2, S, C), one beside the other: (3, S, 2 C)."""
    return np.concatenate([edges[:, 0], edges[:, 1]], axis=-1)


def cut(row: RowView, starts: np.ndarray, ends: np.ndarray) -> Segments:
    """Segments between ``starts`` and ``ends`` (S,), in columns of the row, each resampled to COLUMNS columns."""
    at = starts[:, None] + (np.arange(COLUMNS) + 0.5) / COLUMNS * (ends - starts)[:, None]
    cells, clipped = (_sampled(np.moveaxis(each, 2, 1), at) for each in (row.cells, row.clipped))
    cloth = np.moveaxis(_sampled(row.cloth, at), 0, 1)
    return Segments(
        np.ascontiguousarray(cells.transpose(2, 0, 3, 1)),
        (cloth >= 0.5).astype(np.float32),
        np.ascontiguousarray(clipped.transpose(2, 0, 3, 1)),
    )


def _sampled(values: np.ndarray, at: np.ndarray) -> np.ndarray:
    """``values`` (..., W) at the columns ``at`` (S, N), linearly interpolated: (..., S, N)."""
    columns = values.shape[-1]
    at = np.clip(at - 0.5, 0, columns - 1).astype(np.float32)
    low = at.astype(int)
    part = at - low
    sampled = values.take(low, axis=-1) * (1 - part)
    sampled += values.take(np.minimum(low + 1, columns - 1), axis=-1) * part
    return sampled
