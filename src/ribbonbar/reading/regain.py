"""Rows whose ends were found wrong: a ribbon cut short, one lost against dark cloth, or a shadow taken for one.

The ribbons themselves say where the row is: the catalogue's templates are slid along the strip, which goes on beyond
the ends that were found, and the best chain of neighbours wins.
"""

import numpy as np

from ribbonbar.reading.decode import LIT, SCALE_TOLERANCE, DecodedRow, Loom, quick_evidence
from ribbonbar.reading.evidence import tempered
from ribbonbar.reading.light import Light
from ribbonbar.reading.observe import SAMPLES_PER_MM, RowView, outline
from ribbonbar.reading.segment import ASPECT_TOLERANCE, MOST_RIBBONS, Division

POOR = -90.0
"""Quick log evidence below which a ribbon is not recognised; a chain gains nothing by it."""
GAIN, GAIN_ALONE = 12.0, 60.0
"""How much better a chain must be to replace the division found; the second where the bar has no row to go by."""
STRUCTURE = 25.0
"""Log evidence that the ground's own texture and seams may reach."""
PER_MM, AT_MOST = 1.5, 30.0
"""Cost of moving an end by a millimetre, and of moving it however far."""
STEP = SAMPLES_PER_MM
"""Columns between the places tried: a millimetre."""


def regain(rows: list[DecodedRow], views: list[RowView], loom: Loom, light: Light) -> list[DecodedRow]:
    """The rows; those with an unrecognised ribbon whose ends may be wrong divided anew, where a chain explains them
    better.

    Ends are doubted where the row's length is not a whole number of ribbons at the scale of the bar's other rows; with
    no other row to go by, a chain must be better by far.
    """
    sound = [_scale(row, loom) for row in rows if not _is_poor(row)]
    if sound:
        scales, gain = np.median(sound) * np.array([0.97, 1.0, 1.03]), GAIN
    else:
        scales, gain = SAMPLES_PER_MM * np.exp(ASPECT_TOLERANCE * np.linspace(-2.5, 2.5, 11)), GAIN_ALONE

    def doubted(row: DecodedRow) -> bool:
        fits = sound and abs(np.log(_scale(row, loom) / scales[1])) < SCALE_TOLERANCE
        return _is_poor(row) and not fits

    return [
        _regained(row, view, scales, gain, loom, light) if doubted(row) else row
        for row, view in zip(rows, views, strict=True)
    ]


def _is_poor(row: DecodedRow) -> bool:
    """True when some ribbon of the row is like nothing in the catalogue."""
    return bool((row.evidence.max(1) < POOR).any())


def _scale(row: DecodedRow, loom: Loom) -> float:
    """Columns a millimetre, from the row's length and its ribbons' widths."""
    return float(np.ptp(row.division.edges) / loom.classes[list(row.division.classes)].sum())


def _regained(
    row: DecodedRow, view: RowView, scales: np.ndarray, gain: float, loom: Loom, light: Light
) -> DecodedRow:
    columns = view.cells.shape[1]
    share = np.diff(row.division.edges) / (SAMPLES_PER_MM * loom.classes[0])
    best, edges = gain + (_recognised(row.evidence.max(1)) * share).sum(), None
    for scale in scales:
        width = scale * loom.classes[0]
        starts = np.arange(0.0, columns - width + 1e-6, STEP)
        if not len(starts):
            continue
        seen = outline(view, starts, starts + width)
        worth = _recognised(quick_evidence(seen, loom, light, *LIT).max(1))
        outside = np.maximum(view.start - starts, 0) + np.maximum(starts + width - view.end, 0) > 0.3 * width
        worth[outside] = np.minimum(worth, _unlike_ground(seen.profile))[outside]
        worth *= scale / SAMPLES_PER_MM  # wider ribbons say more
        for count in range(1, min(MOST_RIBBONS, int(columns / width)) + 1):
            first = starts[starts + count * width <= columns + STEP]
            places = first[:, None] + np.arange(count) * width
            nearest = np.minimum(np.round(places / STEP).astype(int), len(starts) - 1)
            score = worth[nearest].sum(1) - _moved(first - view.start) - _moved(first + count * width - view.end)
            if len(score) and score.max() > best:
                best = float(score.max())
                edges = first[score.argmax()] + np.arange(count + 1) * width
    if edges is None:
        return row
    edges = np.clip(edges, 0.0, columns)
    evidence = quick_evidence(outline(view, edges[:-1], edges[1:]), loom, light, *LIT)
    division = Division(edges, (0,) * (len(edges) - 1), 0.0)
    return DecodedRow(division, evidence, (division,))


def _unlike_ground(profile: np.ndarray) -> np.ndarray:
    """How much (S,) each window's structure speaks for a ribbon rather than for plain ground under uneven light:
    ``profile`` (S, COLUMNS / 2, 3). A plain ribbon beyond the ends that were found is not told from the ground."""
    x = np.linspace(-1.0, 1.0, profile.shape[1])[None, :, None]
    centred = profile - profile.mean(1, keepdims=True)
    left = centred - x * (centred * x).sum(1, keepdims=True) / (x**2).sum()
    cost = 0.5 * (left**2).sum((1, 2)) / tempered(LIT[2], profile.shape[1])
    return np.maximum(cost - STRUCTURE, 0.0)


def _recognised(evidence: np.ndarray) -> np.ndarray:
    return np.maximum(evidence - POOR, 0.0)


def _moved(columns: np.ndarray) -> np.ndarray:
    return np.minimum(np.abs(columns) / SAMPLES_PER_MM * PER_MM, AT_MOST)
