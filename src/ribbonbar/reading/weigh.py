"""Weighing the few ribbons that remain for one segment, with every freedom that cloth, dye and light have."""

from dataclasses import dataclass

import numpy as np

from ribbonbar.reading.decode import Loom
from ribbonbar.reading.evidence import OUTLIER, coarse_scatter, scatter_cost, structured_evidence
from ribbonbar.reading.light import Light
from ribbonbar.reading.observe import Segments, root
from ribbonbar.reading.templates import COLUMNS, ROWS, blurred

UPRIGHT_KEPT, SLANTED_KEPT = 16, 12
"""Templates weighed for each segment: the right one was among the quick comparison's best 12 whenever it was found."""
HOPELESS = 60.0
"""Quick log evidence behind the best from which a template is not weighed."""
CELL_NOISE = 0.02
"""Cube-root light: weave, sensor and compression in one cell."""
ANY_DYE = 4.7
"""How much further than a known ribbon's the dyes of a stranger of the same layout may be from it: a fifth of the way
from black to white."""
SAYS_LITTLE = 0.02
"""Weight of a channel that the camera clipped, where the template would have been brighter still."""
DROPPED_AT_MOST = 0.2
"""Share of a slanted ribbon's cells that an emblem may hide."""


@dataclass(frozen=True)
class Weighed:
    """One template's log evidence for a segment; ``left`` is the root mean square residual, cube-root light."""

    template: int
    log_evidence: float
    left: float


def any_dye(segments: Segments, number: int, template: int, loom: Loom, light: Light) -> float:
    """Log evidence of a ribbon laid out like ``template`` but of any dyes: a stranger that is nearly a known ribbon."""
    chosen, upright = np.array([template]), len(loom.vertical)
    if template < upright:
        return _weigh_upright(segments, number, chosen, loom, light, ANY_DYE)[0].log_evidence
    return _weigh_slanted(segments, number, chosen - upright, loom, light, ANY_DYE)[0].log_evidence


def of_one_colour(segments: Segments, number: int, template: int, loom: Loom, light: Light) -> float:
    """Log evidence of cloth all of one colour where a slanted ribbon is read, letters or an emblem on it: what is like
    that shows no slanting stripes."""
    expected = _coarse(light.shine(loom.slanted(np.array([template - len(loom.vertical)]))))
    even = np.broadcast_to(expected.mean(1, keepdims=True), expected.shape)
    cover = np.ones((*expected.shape[:2], 1), np.float32)
    return float(_hidden_here_and_there(segments, number, even, cover, ANY_DYE)[0][0])


def weigh(segments: Segments, number: int, quick: np.ndarray, loom: Loom, light: Light) -> list[Weighed]:
    """The likeliest templates of segment ``number`` in falling order; ``quick`` (T,) is the quick log evidence."""
    upright = len(loom.vertical)
    hopeful = quick > quick.max() - HOPELESS
    weighed = []
    if hopeful[:upright].any():
        best = _best(quick[:upright], hopeful[:upright], UPRIGHT_KEPT)
        weighed += _weigh_upright(segments, number, best, loom, light)
    if hopeful[upright:].any():
        best = _best(quick[upright:], hopeful[upright:], SLANTED_KEPT)
        weighed += _weigh_slanted(segments, number, best, loom, light)
    return sorted(weighed, key=lambda w: -w.log_evidence)


def _best(values: np.ndarray, hopeful: np.ndarray, count: int) -> np.ndarray:
    candidates = np.flatnonzero(hopeful)
    return candidates[np.argsort(-values[candidates], kind="stable")[:count]]


def _weigh_upright(
    segments: Segments, number: int, chosen: np.ndarray, loom: Loom, light: Light, dye_spread: float = 1.0
) -> list[Weighed]:
    profile, clips = segments.profile[number], segments.seen_clipped[number]
    dyes = loom.bank.vertical.dyes[chosen]
    expected = light.shine(loom.vertical[chosen])
    cover = _used(blurred(loom.bank.vertical.cover[chosen], loom.blur)[:, 0])
    weight = np.broadcast_to(segments.weight[number][None, :, None] / ROWS, expected.shape).copy()
    beside = max(round(loom.hue_blur), 1)  # the neighbour shines through the lens here
    weight[:, :beside] *= 0.3
    weight[:, -beside:] *= 0.3
    weight *= np.where((clips > 0.3) & (expected > profile - 0.02), SAYS_LITTLE, 1.0)
    graded = light.shine(np.einsum("tck,tkx->tcx", cover, root(dyes[:, : cover.shape[-1]]))) - expected
    evidence, left = structured_evidence(profile, weight, expected, cover, CELL_NOISE, COLUMNS, dye_spread, graded)
    evidence -= scatter_cost(coarse_scatter(segments.cells[number] - profile), CELL_NOISE)
    residual = np.sqrt((left**2).mean((1, 2)))
    return [Weighed(int(t), float(e), float(r)) for t, e, r in zip(chosen, evidence, residual, strict=True)]


def _weigh_slanted(
    segments: Segments, number: int, chosen: np.ndarray, loom: Loom, light: Light, dye_spread: float = 1.0
) -> list[Weighed]:
    expected = _coarse(light.shine(loom.slanted(chosen)))
    cover = _used(_coarse(blurred(loom.bank.slanted.cover[chosen], loom.blur)))
    evidence, residual = _hidden_here_and_there(segments, number, expected, cover, dye_spread)
    offset = len(loom.vertical)
    return [Weighed(int(t) + offset, float(e), float(r)) for t, e, r in zip(chosen, evidence, residual, strict=True)]


def _hidden_here_and_there(
    segments: Segments, number: int, expected: np.ndarray, cover: np.ndarray, dye_spread: float
) -> tuple[np.ndarray, np.ndarray]:
    """Log evidence (M,) of what is ``expected`` (M, D, 3) of a segment's coarse cells, some of which an emblem hides,
    and the root mean square residual (M,); ``cover`` (M, D, K) says which dye is where."""
    seen = _coarse(segments.cells[number][None])[0]
    clips = _coarse(segments.clipped[number][None])[0]
    weight = np.where((clips > 0.3) & (expected > seen - 0.02), SAYS_LITTLE, 1.0).astype(np.float32)
    _, left = structured_evidence(seen, weight, expected, cover, CELL_NOISE, COLUMNS // 2, dye_spread)
    worst = np.abs(left).max(-1)
    limit = np.maximum(np.quantile(worst, 1.0 - DROPPED_AT_MOST, axis=1, keepdims=True), 2.0 * CELL_NOISE)
    kept = weight * (worst <= limit)[..., None]
    evidence, left = structured_evidence(seen, kept, expected, cover, CELL_NOISE, COLUMNS // 2, dye_spread)
    evidence -= 0.5 * OUTLIER * (worst > limit).sum(1) / (6.0 * worst.shape[1] / COLUMNS)
    return evidence, np.sqrt((left**2 * kept).sum((1, 2)) / kept.sum((1, 2)))


def _used(cover: np.ndarray) -> np.ndarray:
    """The shares without dyes that none of these templates has."""
    return cover[..., : int(np.flatnonzero(cover.any(axis=tuple(range(cover.ndim - 1))))[-1]) + 1]


def _coarse(cells: np.ndarray) -> np.ndarray:
    """(S, ROWS, COLUMNS, C) averaged two by two and laid out row by row: (S, ROWS * COLUMNS / 4, C)."""
    count, rows, columns, channels = cells.shape
    return cells.reshape(count, rows // 2, 2, columns // 2, 2, channels).mean((2, 4)).reshape(count, -1, channels)
