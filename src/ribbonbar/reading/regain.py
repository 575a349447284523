"""Rows whose ends were found wrong: a ribbon cut short, one lost against dark cloth, or a shadow taken for one.

The ribbons themselves say where the row is: the catalogue's templates are slid along the strip, which goes on beyond
the ends that were found, and the best chain of neighbours wins (dynamic programming over the places along the strip).
"""

import numpy as np

from ribbonbar.reading.decode import (
    LIT,
    WIDTH_TOLERANCE,
    DecodedRow,
    Loom,
    Quick,
    Shone,
    likeliest,
    quick_evidence,
    quick_of,
    relit,
    seen_under,
    unlit,
)
from ribbonbar.reading.evidence import tempered
from ribbonbar.reading.observe import SAMPLES_PER_MM, RowView, outline
from ribbonbar.reading.refine import refine
from ribbonbar.reading.segment import ASPECT_TOLERANCE, ODD_WIDTH_COST, Division

WELL = -60.0
"""Quick log evidence from which a ribbon counts as well recognised; a row of such ribbons is left as it is."""
POOR = -90.0
"""Quick log evidence below which a ribbon is not recognised at all; a chain gains nothing by it."""
GAIN, GAIN_ALONE = 12.0, 25.0
"""How much better a chain must be to replace the division found; the second where the bar has no row to go by, and
where every ribbon is recognised, if not well: a sheet's edge beside the bar may look like one more."""
OFF_SCALE = 0.065
"""Logarithm of a row's scale against its bar's from which its ends are likely wrong: the rows of one bar are of one
scale to 0.02 (standard deviation, measured on simulated pictures)."""
STRUCTURE = 25.0
"""Log evidence that the ground's own texture and seams may reach."""
A_RIBBON = 2.0
"""Cost of every ribbon of a chain, so that nothing is cut in pieces."""
PER_MM, AT_MOST, AT_MOST_INWARD = 3.0, 60.0, 30.0
"""Cost of moving an end by a millimetre, and of moving it however far: outward, where the ground may look like one
ribbon more, and inward."""
SHORT, OUT, STICKING_OUT = 0.85, 8.0 * SAMPLES_PER_MM, 20.0
"""Share of the others' length below which a row is a short one, columns beyond all others' ends from which it would
stick out over them, and what that costs."""
LEAST_LEFT_OUT = 8.0 * SAMPLES_PER_MM
"""Columns: a row's end moved further inward than this leaves something out that may be a ribbon."""
PLAIN_SIGHT = 50.0
"""How much more than not at all, and than ground, a ribbon beyond a row's end must look like one."""
MANY_STRIPES = 3
"""What it must have: the edge of a lapel or of a sheet of paper makes two."""
PLAY_BESIDE = np.array([-1.0, 0.0, 1.0])
"""Millimetres from a row's end at which the ribbon beyond it may begin."""
STEP = SAMPLES_PER_MM / 2
"""Columns between the places tried: half a millimetre."""
SLACK = (-2, -1, 0, 1, 2)
"""Steps by which neighbours may overlap or gape."""
COARSE_STEP, COARSER = SAMPLES_PER_MM, 3
"""Columns between places, and columns averaged into one, when it is only asked which templates are worth sliding."""
TRIED = 12
"""Templates of each width that are worth sliding of each such place."""
HOPELESS = POOR - 30.0
"""Quick log evidence there below which none is: finer places gain no more."""


def regain(rows: list[DecodedRow], views: list[RowView], shone: Shone) -> list[DecodedRow]:
    """The rows; those with a ribbon that is not well recognised, or of another scale than the bar, divided anew where a
    chain explains them better; and with them what stands beyond an end and is plainly one ribbon more."""
    own = [_scale(row, shone.loom) for row in rows]
    sound = [number for number, row in enumerate(rows) if is_sound(row)]
    if not sound:
        scales = SAMPLES_PER_MM * np.exp(ASPECT_TOLERANCE * np.linspace(-2.4, 2.4, 9))
        again = [_regained(row, view, scales, GAIN_ALONE, shone) for row, view in zip(rows, views, strict=True)]
        return [_prolonged(row, view, shone) for row, view in zip(again, views, strict=True)]
    bar = bar_scale([rows[k] for k in sound], shone.loom)
    scales = bar * np.array([0.97, 1.0, 1.03])
    regained = []
    for number, (row, view) in enumerate(zip(rows, views, strict=True)):
        off = abs(np.log(own[number] / bar))
        if off > OFF_SCALE or number not in sound:
            gain = GAIN_ALONE if off <= OFF_SCALE and (row.evidence.max(1) > POOR).all() else GAIN
            gain -= min(0.5 * (off / WIDTH_TOLERANCE) ** 2, AT_MOST)
            row = _regained(row, view, scales, gain, shone)
        regained.append(_prolonged(row, view, shone))
    return regained


def is_lost(rows: list[DecodedRow]) -> bool:
    """Whether no ribbon of the bar is recognised at all."""
    return all(row.evidence.max() < POOR for row in rows)


def afresh(rows: list[DecodedRow], views: list[RowView], loom: Loom) -> tuple[Shone, list[DecodedRow]]:
    """Rows of which no ribbon is recognised, begun again under the usual light: ends found wrong may have misled the
    light, and under a wrong light no chain shows where the ends are."""
    shone = unlit(loom)
    again = regain([seen_under(shone, row, view) for row, view in zip(rows, views, strict=True)], views, shone)
    for _ in range(2):
        shone = relit(again, views, shone)
        again = [refine(row, view, shone) for row, view in zip(again, views, strict=True)]
    return shone, again


def is_sound(row: DecodedRow) -> bool:
    """Whether every ribbon of a row is well recognised."""
    return bool((row.evidence.max(1) > WELL).all())


def bar_scale(rows: list[DecodedRow], loom: Loom) -> float:
    """Columns a millimetre, from the rows' lengths and their ribbons' widths; the median over all ribbons."""
    return float(np.median(np.repeat([_scale(row, loom) for row in rows], [len(row.evidence) for row in rows])))


def _scale(row: DecodedRow, loom: Loom) -> float:
    """Columns a millimetre, from the row's length and its ribbons' widths."""
    return float(np.ptp(row.division.edges) / loom.classes[list(row.division.classes)].sum())


def _regained(row: DecodedRow, view: RowView, scales: np.ndarray, gain: float, shone: Shone) -> DecodedRow:
    numbers = _likely(view, scales[1::3], shone)
    if not len(numbers):
        return row
    likely = shone.quick.pick(numbers)
    chains = [_best_chain(view, scale, shone.loom, likely) for scale in scales]
    _, edges, classes = max(chains, key=lambda chain: chain[0])
    if not classes:
        return row
    division = Division(edges, classes, 0.0)
    evidence = quick_evidence(outline(view, edges[:-1], edges[1:]), shone.quick)
    chain = refine(DecodedRow(division, evidence, (division,)), view, shone)
    return chain if _worth(chain, view, shone.loom) > _worth(row, view, shone.loom) + gain else row


def _prolonged(row: DecodedRow, view: RowView, shone: Shone) -> DecodedRow:
    """The row and, at either end, the ribbon of three stripes or more that stands there in plain sight: finding goes by
    edges, and may have left out a ribbon in other light."""
    loom = shone.loom
    for last in (False, True):
        edges, classes = row.division.edges, row.division.classes
        widths = _scale(row, loom) * np.repeat(loom.classes, len(PLAY_BESIDE))
        near = (edges[-1] if last else edges[0]) + np.tile(PLAY_BESIDE, len(loom.classes)) * SAMPLES_PER_MM
        far = near + widths if last else near - widths
        held = np.flatnonzero((np.minimum(near, far) >= 0) & (np.maximum(near, far) <= view.cells.shape[1]))
        if not len(held):
            continue
        seen = outline(view, np.minimum(near, far)[held], np.maximum(near, far)[held])
        own = shone.quick.width_class == held[:, None] // len(PLAY_BESIDE)
        evidence = np.where(own, quick_evidence(seen, shone.quick), -np.inf)
        gained = np.minimum(_recognised(evidence.max(1)), _unlike_ground(seen.profile))
        gained[loom.stripes[evidence.argmax(1)] < MANY_STRIPES] = 0.0
        best = int(gained.argmax())
        if gained[best] > PLAIN_SIGHT:
            end, own_class = float(far[held[best]]), int(held[best]) // len(PLAY_BESIDE)
            division = Division(
                np.append(edges, end) if last else np.append(end, edges),
                (*classes, own_class) if last else (own_class, *classes),
                row.division.log_prior,
            )
            evidence = quick_evidence(outline(view, division.edges[:-1], division.edges[1:]), shone.quick)
            longer = refine(DecodedRow(division, evidence, (division,)), view, shone)
            if loom.stripes[longer.evidence[-1 if last else 0].argmax()] >= MANY_STRIPES:
                row = longer
    return row


def _worth(row: DecodedRow, view: RowView, loom: Loom) -> float:
    """What a division explains, less what it costs: the same for divisions found by either way."""
    edges = row.division.edges
    share = np.diff(edges) / (SAMPLES_PER_MM * loom.classes[0])
    odd = np.count_nonzero(row.division.classes)
    ends = _beginning(view, edges[0]) + _ending(view, edges[-1])
    ends += _left_out(view, view.start, edges[0]) + _left_out(view, edges[-1], view.end)
    return float((_recognised(row.evidence.max(1)) * share).sum() - ODD_WIDTH_COST * odd - A_RIBBON * len(share) - ends)


def _left_out(view: RowView, start: float, end: float) -> float:
    """What it costs to take a part of the row as found for ground: its structure may be a ribbon that nobody knows."""
    if end - start < LEAST_LEFT_OUT:
        return 0.0
    return float(min(_unlike_ground(outline(view, np.array([start]), np.array([end])).profile)[0], AT_MOST))


def _likely(view: RowView, scales: np.ndarray, shone: Shone) -> np.ndarray:
    """Numbers of the templates that are among the likeliest of their width at some place along the strip, at one of
    these scales."""
    loom, coarse = shone.loom, quick_of(shone.loom, shone.light, by=COARSER)
    likely = [np.empty(0, int)]
    for c, width_mm in enumerate(loom.classes):
        own = np.flatnonzero(loom.width_class == c)
        templates = coarse.pick(own)
        for width in scales * width_mm:
            starts = np.arange(0.0, max(view.cells.shape[1] - width, 0.0) + 1e-6, COARSE_STEP)
            evidence = quick_evidence(outline(view, starts, starts + width).coarser(COARSER), templates)
            best = likeliest(evidence, TRIED)
            likely.append(own[best[np.take_along_axis(evidence, best, axis=1) > HOPELESS]])
    return np.unique(np.concatenate(likely))


def _best_chain(view: RowView, scale: float, loom: Loom, templates: Quick) -> tuple[float, np.ndarray, tuple[int, ...]]:
    """Score, edges and width classes of the best chain of neighbouring ribbons at ``scale`` columns a millimetre."""
    columns = view.cells.shape[1]
    places = np.arange(0.0, columns + 1e-6, STEP)
    widths = scale * loom.classes
    misfit = 0.5 * (np.log(loom.classes[:, None] / loom.classes[None]) / WIDTH_TOLERANCE) ** 2
    worth = np.full((len(widths), len(places)), -np.inf)
    for c, width in enumerate(widths):
        starts = places[places + width <= columns + STEP]
        if len(starts):
            seen = outline(view, starts, starts + width)
            evidence = quick_evidence(seen, templates)
            outside = np.maximum(view.start - starts, 0) + np.maximum(starts + width - view.end, 0) > 0.3 * width
            evidence[np.ix_(outside, templates.stripes == 1)] = -np.inf  # so may the ground look
            by_class = templates.best_of_class(evidence, len(widths))
            gained = _recognised((by_class - misfit[c]).max(1)) * width / (SAMPLES_PER_MM * loom.classes[0])
            gained[outside] = np.minimum(gained[outside], _unlike_ground(seen.profile[:, outside]))
            gained[outside & (gained <= 0)] = -np.inf  # ground; within the row it is a ribbon that nobody knows
            worth[c, : len(starts)] = gained - ODD_WIDTH_COST * (c > 0) - A_RIBBON
    spans = np.maximum(np.round(widths / STEP).astype(int), 2)
    begun = -_beginning(view, places)
    best, came = begun.copy(), np.full((len(places), 2), -1)
    reach = (spans[:, None] - np.array(SLACK)).ravel()
    classes = np.repeat(np.arange(len(spans)), len(SLACK))
    block = int(reach.min())  # no ribbon is shorter: the places of a block do not depend on each other
    for first in range(block, len(places), block):
        stops = np.arange(first, min(first + block, len(places)))
        starts = stops[:, None] - reach
        gained = np.where(starts >= 0, best[starts] + worth[classes, starts], -np.inf)
        top = gained.argmax(1)
        gained, starts = (np.take_along_axis(each, top[:, None], axis=1)[:, 0] for each in (gained, starts))
        better = gained > best[stops]
        best[stops[better]] = gained[better]
        came[stops[better]] = np.stack([starts, classes[top]], axis=1)[better]
    final = np.where(came[:, 0] >= 0, best - _ending(view, places), -np.inf)
    at = int(final.argmax())
    score, edges, chosen = float(final[at]), [places[at]], []
    while came[at, 0] >= 0:
        at, c = came[at]
        edges.append(places[at])
        chosen.append(int(c))
    return score, np.array(edges[::-1]), tuple(chosen[::-1])


def _unlike_ground(profile: np.ndarray) -> np.ndarray:
    """How much (S,) each window's structure speaks for a ribbon rather than for plain ground under uneven light:
    ``profile`` (3, S, COLUMNS / 2)."""
    x = np.linspace(-1.0, 1.0, profile.shape[2])
    centred = profile - profile.mean(2, keepdims=True)
    left = centred - x * (centred @ x / (x @ x))[..., None]
    cost = 0.5 * (left**2).sum((0, 2)) / tempered(LIT.noise, profile.shape[2])
    return np.maximum(cost - STRUCTURE, 0.0)


def _recognised(evidence: np.ndarray) -> np.ndarray:
    return np.maximum(evidence - POOR, 0.0)


def _beginning(view: RowView, places: np.ndarray) -> np.ndarray:
    """Cost (...) of a row's beginning at these columns."""
    return _moved(places - view.start) + _sticking_out(view, view.reach[0] - places)


def _ending(view: RowView, places: np.ndarray) -> np.ndarray:
    """Cost (...) of a row's ending at these columns."""
    return _moved(view.end - places) + _sticking_out(view, places - view.reach[1])


def _moved(inward: np.ndarray) -> np.ndarray:
    """Cost (...) of ends that lie so many columns further in than they were found; negative ones lie further out."""
    most = np.where(inward > 0, AT_MOST_INWARD, AT_MOST)
    return np.minimum(np.abs(inward) / SAMPLES_PER_MM * PER_MM, most)


def _sticking_out(view: RowView, beyond: np.ndarray) -> np.ndarray:
    """Cost (...) of ends that lie so many columns ``beyond`` those of all other rows."""
    short = view.end - view.start < SHORT * (view.reach[1] - view.reach[0])
    return STICKING_OUT * ((beyond > OUT) & short)
