"""How well a template explains a segment: Gaussian evidence with the freedoms cloth, dye, light and fading have."""

from dataclasses import dataclass

import numpy as np

from ribbonbar.reading.templates import COLUMNS

FREEDOM = 6.0
"""Neighbouring cells err together (weave, lens, compression): this many columns count as one independent one."""


@dataclass(frozen=True)
class Leeway:
    """How far a segment may be from a template in the quick comparison, cube-root light: standard deviations of each
    channel's ``gain`` around 1, of its ``offset`` around 0, and of a cell's ``noise``."""

    gain: float
    offset: float
    noise: float


@dataclass(frozen=True)
class Rays:
    """Templates made ready for the quick comparison: of each channel the direction in which a gain moves it.

    ``units`` (3, T, D + 1) float32 of length 1; ``cost`` (T,) is the log evidence that the free gain and offset cost.
    """

    units: np.ndarray
    cost: np.ndarray
    leeway: Leeway

    def __len__(self) -> int:
        return len(self.cost)

    def pick(self, numbers: np.ndarray) -> "Rays":
        """Some of the templates, in that order."""
        return Rays(self.units[:, numbers], self.cost[numbers], self.leeway)


def rays_of(expected: np.ndarray, leeway: Leeway) -> Rays:
    """Templates ``expected`` (3, T, D), cube-root light, ready for ``affine_evidence``."""
    rays = _whitened(expected, leeway)
    square = np.einsum("ctd,ctd->ct", rays, rays)
    rays /= np.sqrt(square)[..., None]
    cells = expected.shape[2]
    offset = np.log(1.0 + cells * leeway.offset**2 / tempered(leeway.noise, cells))
    cost = 0.5 * (np.log(square * leeway.gain**2) + offset).sum(0)
    return Rays(rays, cost.astype(np.float32), leeway)


def affine_evidence(seen: np.ndarray, templates: Rays) -> np.ndarray:
    """Log evidence (S, T) of templates for segments ``seen`` (3, S, D), cube-root light, when gain and offset of each
    channel are free within a prior.

    Bayesian linear regression with two bases a channel (e.g. Bishop 2006, Pattern Recognition and Machine Learning,
    section 3.5). The offset is whitened away; a gain's prior is one more coordinate, the same for all: then the
    evidence is how far the segment lies from the template's ray, and all pairs cost one product.
    """
    rays = _whitened(seen, templates.leeway)
    along = rays @ templates.units.transpose(0, 2, 1)
    near = np.einsum("cst,cst->st", along, along)
    near -= np.einsum("csd,csd->s", rays, rays)[:, None]
    near *= 0.5
    near -= templates.cost
    return near


def _whitened(cells: np.ndarray, leeway: Leeway) -> np.ndarray:
    """Cells (3, N, D) as (3, N, D + 1): in standard deviations of noise and free offset, and the gain's prior mean in
    its own standard deviations."""
    *lead, size = cells.shape
    precision = 1.0 / tempered(leeway.noise, size)
    dimmed = 1.0 - 1.0 / np.sqrt(1.0 + precision * leeway.offset**2 * size)
    rays = np.empty((*lead, size + 1), np.float32)
    np.subtract(cells, dimmed * cells.mean(-1, keepdims=True), out=rays[..., :-1])
    rays[..., :-1] *= np.sqrt(precision)
    rays[..., -1] = 1.0 / leeway.gain
    return rays


OUTLIER = 16.0
"""A cell further off than four standard deviations is an emblem, a thread or dirt, and costs no more than that."""


def tempered(noise: float, cells: int) -> float:
    """Variance of a cell such that ``cells`` of them carry as much as COLUMNS / FREEDOM independent ones."""
    return noise**2 * FREEDOM * cells / COLUMNS


def coarse_scatter(apart: np.ndarray) -> np.ndarray:
    """Squared departure (..., ROWS / 2, C / 2) from the column's mean of cells averaged two by two: ``apart`` is
    (..., ROWS, C, 3), of which the mean is already taken out."""
    *lead, rows, columns, _ = apart.shape
    even = apart[..., : columns // 2 * 2, :]
    coarse = even.reshape(*lead, rows // 2, 2, columns // 2, 2, 3).mean((-4, -2))
    return (coarse**2).sum(-1)


def scatter_cost(scatter: np.ndarray, noise: float) -> np.ndarray:
    """What it costs (...) an upright ribbon that its cells scatter so: ``scatter`` is (..., ROWS / 2, COLUMNS / 2)."""
    cells = scatter.shape[-1] * scatter.shape[-2]
    return 0.5 * np.minimum(scatter, OUTLIER * noise**2).sum((-2, -1)) / tempered(noise, cells)


DYE_COMMON, DYE_OWN, DYE_STRONG = 0.025, 0.013, 0.05
"""Standard deviations of one dye's departure in cube-root light: in lightness; in each channel by itself; and the more
of that for each unit by which its channels differ, since what fades or is dyed stronger is the colour (measured on
2,472 stripes of simulated and rendered pictures, the bar's light and the ribbon's own brightness taken out: 0.016 for
greys to 0.038 for pure colours)."""
GAIN, TINT, SLOPE, BOW = 0.13, 0.012, 0.05, 0.03
"""Of one ribbon's own light: brightness, colour, change across it (a shadow's edge), rounding at its sides."""
VEIL, FADE = 0.03, 0.06
"""Of haze over one ribbon, and of its fading toward pale cloth."""
SHIFT, STRETCH, EDGE = 1.0, 1.0, 0.8
"""Columns: how far the whole pattern, its width and each single stripe edge may be from where they should be."""
SHIFT_HEIGHT, EDGE_HEIGHT = 0.05, 0.03
"""The same up and down, as shares of the ribbon's height: half a millimetre, as rows are found to."""
SEAM, SEAM_WIDE = 0.4, 2.0
"""Of the shade in the seam beside a ribbon: how dark it makes the very edge, and in how many columns that falls to a
third."""
GRADED = 0.7
"""Of how shaded stripes are graded, from one dye to the other: 0 in even light, 1 evenly to the eye."""
PALE = 0.85
"""Cube-root light of cloth with no dye left."""


def structured_evidence(
    seen: np.ndarray,
    weight: np.ndarray,
    expected: np.ndarray,
    cover: np.ndarray,
    noise: float,
    columns: int,
    dye_spread: float = 1.0,
    graded: np.ndarray | float = 0.0,
) -> tuple[np.ndarray, np.ndarray]:
    """Log evidence (M,) of templates for one segment with every freedom of cloth, and the residual (M, D, 3) left.

    ``seen`` (D, 3) cube-root light; ``weight`` (M, D, 3) between 0 (says nothing) and 1; ``expected`` (M, D, 3) under
    the bar's light; ``cover`` (M, D, K) shares of each dye; D runs over ``columns`` columns, row by row;
    ``dye_spread`` widens what a dye may depart by; ``graded`` (M, D, 3) is how ``expected`` changes when shaded stripes
    are graded evenly to the eye instead of in even light.
    Gaussian marginal likelihood with a low-rank covariance (Woodbury identity; e.g. Petersen & Pedersen, The Matrix
    Cookbook, 2012, section 3.2.2).
    """
    count, cells, _ = cover.shape
    x = np.tile((np.arange(columns) + 0.5) / columns - 0.5, cells // columns).astype(np.float32)[:, None]
    seam = SEAM * np.exp((np.abs(x) - 0.5) * (COLUMNS / SEAM_WIDE))
    slope = np.gradient(expected.reshape(count, -1, columns, 3), axis=2).reshape(expected.shape) * (columns / COLUMNS)
    rows = cells // columns
    rise = np.zeros_like(expected)
    if rows > 1:
        rise = np.gradient(expected.reshape(count, rows, columns, 3), axis=1).reshape(expected.shape) * rows
    base = tempered(noise, cells)
    variance = base + (EDGE * slope) ** 2 + (EDGE_HEIGHT * rise) ** 2
    precision = (weight / variance).reshape(count, -1)
    basis = np.concatenate(
        [
            _per_channel(cover, _dye_roots(cover, expected) * dye_spread),
            _per_channel(np.ones((1, cells, 1), np.float32), np.eye(3)[None, None] * TINT) * expected[..., None],
            np.stack(
                [
                    expected * GAIN,
                    expected * (2 * SLOPE * x),
                    expected * (BOW * (4 * x**2 - 1 / 3)),
                    expected * (seam * (x < 0)),
                    expected * (seam * (x > 0)),
                    np.full_like(expected, VEIL),
                    (PALE - expected) * FADE,
                    slope * SHIFT,
                    slope * (2 * STRETCH * x),
                    rise * SHIFT_HEIGHT,
                    np.broadcast_to(graded * GRADED, expected.shape),
                ],
                axis=-1,
            ),
        ],
        axis=-1,
    ).reshape(count, cells * 3, -1)
    residual = (seen[None] - expected).reshape(count, -1)
    weighted = (basis * precision[..., None]).transpose(0, 2, 1)
    inner = weighted @ basis + np.eye(basis.shape[-1], dtype=np.float32)
    pull = weighted @ residual[..., None]
    answer = np.linalg.solve(inner, pull)
    left = residual - (basis @ answer)[..., 0]
    fit = (precision * residual**2).sum(1) - (pull * answer).sum((1, 2))
    spread = (np.log(variance / base) * weight).sum((1, 2)) / (FREEDOM * cells / COLUMNS)
    return -0.5 * (fit + np.linalg.slogdet(inner)[1] + spread), left.reshape(count, cells, 3)


def _dye_roots(cover: np.ndarray, expected: np.ndarray) -> np.ndarray:
    """Roots (M, K, 3, 3) of the covariance of each dye's departure, from the colours ``expected`` (M, D, 3) that it has
    where it covers (M, D, K)."""
    share = cover.transpose(0, 2, 1)
    colour = share**2 @ expected / np.maximum((share**2).sum(2, keepdims=True), 1e-6)
    own = DYE_OWN + DYE_STRONG * np.ptp(colour, axis=2)
    return np.linalg.cholesky(np.eye(3) * own[..., None, None] ** 2 + DYE_COMMON**2)


def _per_channel(cover: np.ndarray, roots: np.ndarray) -> np.ndarray:
    """Bases (M, D, 3, 3 K) that move each of K shares by its own colour, with covariance ``root @ root.T`` of each of
    ``roots`` (M, K, 3, 3)."""
    count, cells, dyes = cover.shape
    bases = cover[:, :, None, :, None] * roots.astype(np.float32).transpose(0, 2, 1, 3)[:, None]
    return bases.reshape(count, cells, 3, 3 * dyes)
