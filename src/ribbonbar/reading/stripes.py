"""The stripes of a ribbon that is in no specification, measured from its profile: where they lie, which colours."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ribbonbar.reading.evidence import FREEDOM
from ribbonbar.reading.free import ANY_COLOUR, best_runs, run_costs
from ribbonbar.reading.observe import TOE, root
from ribbonbar.reading.templates import COLUMNS
from ribbonbar.spec.colour import ciede2000, lab_from_linear

CLOTH_NOISE = 0.008
"""Cube-root light: what a column's mean over the cloth's height still errs by."""
SHORTEST_SHADED = 12
"""Columns: no shading is shorter than 4 mm on a 32 mm ribbon."""
LEAST_SHADED = 0.12
"""Cube-root light that a shaded stripe must change by: light alone changes less across one ribbon."""
SAME_DYE = 5.0
"""CIEDE2000 within which two stripes of one ribbon are one dye: the light may change by as much across it."""
NARROWEST = 1.2
"""Columns (0.4 mm) below which nothing is called a stripe."""
MARGIN = 2
"""Columns at each end that are left out: the neighbour shines in, and the ribbon's own edge is not known better."""
ROUNDS, LEAST_GAIN = 30, 1e-4
"""Most steps of the least squares, and the share of the squared error that makes one more worth while."""
DARKEST, BRIGHTEST = float(np.cbrt(TOE)), 1.02
"""Cube-root light that cloth can have."""


@dataclass(frozen=True)
class Measured:
    """``edges`` (n + 1,) in columns of COLUMNS with their standard deviations ``edges_sd``; ``start`` and ``end``
    (n, 3) each stripe's colours as seen, cube-root light, equal where it is plain; ``colours_sd`` (n,) their standard
    error; ``left`` the root mean square of what the stripes do not explain, cube-root light."""

    edges: np.ndarray
    edges_sd: np.ndarray
    start: np.ndarray
    end: np.ndarray
    colours_sd: np.ndarray
    left: float

    @property
    def shaded(self) -> np.ndarray:
        return (self.start != self.end).any(1)


def measure(profile: np.ndarray, weight: np.ndarray, blur: float) -> Measured:
    """The stripes of ``profile`` (COLUMNS, 3), cube-root light, of which each column counts ``weight`` (COLUMNS,).

    First the best division into plain and shaded runs; then all edges, colours and the blur together by least squares
    (Levenberg 1944, A method for the solution of certain non-linear problems in least squares), mixed in linear light
    as a lens mixes them; then runs that are one stripe after all become one, and it is fitted again.
    """
    weight = weight / weight.max()
    weight[:MARGIN] = weight[-MARGIN:] = 0.0
    plain = run_costs(profile, CLOTH_NOISE, blur)
    shaded = _shaded_costs(profile, blur)
    edges = best_runs(np.minimum(plain, shaded))[1]
    kinds = [bool(shaded[run] < plain[run]) for run in pairwise(edges)]
    while True:
        found = _fit(profile, weight, np.array(edges, float), kinds, blur)
        kinds = [
            kind and float(_apart(start, end)) > SAME_DYE
            for kind, start, end in zip(kinds, found.start, found.end, strict=True)
        ]
        blend = _mere_blend(found)
        if blend is not None:
            del kinds[blend]
            edges = np.delete(found.edges, blend)
            if 0 < blend < len(kinds):  # between two others: they meet in its middle
                edges[blend] = found.edges[blend : blend + 2].mean()
            edges[0] = 0.0
            continue
        joined = _one_stripe(found)
        if joined is None:
            return found if kinds == found.shaded.tolist() else _fit(profile, weight, found.edges, kinds, blur)
        kinds[joined : joined + 2] = [_apart(found.start[joined], found.end[joined + 1]) > SAME_DYE]
        edges = np.delete(found.edges, joined + 1)


def _shaded_costs(profile: np.ndarray, blur: float) -> np.ndarray:
    """Like ``run_costs``, of runs that shade: the squared error against a straight line, paid for as two colours.

    A weaver grades by eye, evenly in L*a*b*; that is even in cube-root light too.
    """
    gap, variance = int(np.ceil(blur)), CLOTH_NOISE**2 * FREEDOM
    x = (np.arange(COLUMNS) + 0.5) / COLUMNS
    powers = np.stack([x**k for k in range(3)])
    moment = np.concatenate([np.zeros((3, 1)), np.cumsum(powers, axis=1)], axis=1)
    seen = np.concatenate([np.zeros((2, 1, 3)), np.cumsum(powers[:2, :, None] * profile[None], axis=1)], axis=1)
    square = np.concatenate([[0.0], np.cumsum((profile.astype(float) ** 2).sum(1))])
    start, stop = np.nonzero(np.subtract.outer(np.arange(COLUMNS + 1), np.arange(COLUMNS + 1)).T >= SHORTEST_SHADED)
    first, last = start + np.where(start > 0, gap, 0), stop - np.where(stop < COLUMNS, gap, 0)
    inside = last - first >= SHORTEST_SHADED // 2
    start, stop, first, last = start[inside], stop[inside], first[inside], last[inside]
    sums = moment[:, last] - moment[:, first]
    normal = np.stack([sums[:2], sums[1:]]).transpose(2, 0, 1)
    pull = (seen[:, last] - seen[:, first]).transpose(1, 0, 2)
    line = np.linalg.solve(normal, pull)
    error = np.maximum(square[last] - square[first] - (line * pull).sum((1, 2)), 0.0)
    change = np.linalg.norm(line[:, 1], axis=1) * (stop - start) / COLUMNS
    own = 6.0 * np.log(ANY_COLOUR / np.sqrt(4 * variance / (last - first))) + np.log(COLUMNS)
    cost = np.full((COLUMNS + 1, COLUMNS + 1), np.inf)
    cost[start, stop] = np.where(change > LEAST_SHADED, 0.5 * error / variance + own, np.inf)
    return cost


def _fit(profile: np.ndarray, weight: np.ndarray, edges: np.ndarray, kinds: list[bool], blur: float) -> Measured:
    """Edges, colours and blur that explain the profile best; ``kinds`` says which stripes are shaded."""
    places = np.cumsum([0] + [1 + kind for kind in kinds])
    first, last = places[:-1], places[1:] - 1
    count = len(kinds) - 1
    root_weight = np.repeat(np.sqrt(weight), 3)

    def split(values: np.ndarray) -> tuple[np.ndarray, float, np.ndarray]:
        inner = np.concatenate([[0.0], values[:count], [COLUMNS]])
        return inner, float(np.exp(values[count])), values[count + 1 :].reshape(-1, 3)

    def misfit(values: np.ndarray) -> np.ndarray:
        inner, sigma, colours = split(values)
        return root_weight * (profile - root(_blurred(_woven(inner, colours[first], colours[last]), sigma))).ravel()

    values = np.concatenate([edges[1:-1], [np.log(max(blur, 0.5))], _first_colours(profile, edges, kinds).ravel()])
    error, damping, step = misfit(values), 1e-3, 1e-4
    for _ in range(ROUNDS):
        slope = np.stack([(misfit(values + step * one) - error) / step for one in np.eye(len(values))], axis=1)
        normal, pull = slope.T @ slope, -slope.T @ error
        tried = values + np.linalg.solve(normal + damping * (np.diag(np.diag(normal)) + 1e-6 * np.eye(len(pull))), pull)
        tried[count] = np.clip(tried[count], np.log(0.3), np.log(6.0))
        tried[count + 1 :] = np.clip(tried[count + 1 :], DARKEST, BRIGHTEST)
        again = misfit(tried)
        better = (np.diff(split(tried)[0]) > 0.5).all() and (again**2).sum() < (error**2).sum()
        done = damping > 1e6 or (better and (again**2).sum() > (1 - LEAST_GAIN) * (error**2).sum())
        damping = damping / 5 if better else damping * 5
        if better:
            values, error = tried, again
        if done:
            break
    inner, _, colours = split(values)
    freedom = max(3.0 * weight.sum() - len(values), 1.0)
    variance = FREEDOM * max(float((error**2).sum()) / freedom, 1e-7)
    spread = np.sqrt(np.abs(np.diag(np.linalg.pinv(normal))) * variance)
    per_colour = spread[count + 1 :].reshape(-1, 3).mean(1)
    return Measured(
        inner,
        np.concatenate([[0.0], spread[:count], [0.0]]),
        colours[first],
        colours[last],
        np.maximum(per_colour[first], per_colour[last]),
        float(np.sqrt((error**2).sum() / (3.0 * weight.sum()))),
    )


def _first_colours(profile: np.ndarray, edges: np.ndarray, kinds: list[bool]) -> np.ndarray:
    """Colours (M, 3) to begin with: of each run's middle, or of the middles of its outer thirds."""
    colours = []
    for kind, (start, end) in zip(kinds, pairwise(edges), strict=True):
        for part in (1 / 6, 5 / 6) if kind else (1 / 2,):
            at = int(np.clip(start + part * (end - start), MARGIN, COLUMNS - 1 - MARGIN))
            colours.append(profile[at])
    return np.array(colours, float)


def _woven(edges: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Linear light (COLUMNS, 3) of stripes with these edges (n + 1,) and colours (n, 3), cube-root light."""
    columns = np.arange(COLUMNS + 1, dtype=float)
    low, high = np.maximum(columns[:-1, None], edges[:-1]), np.minimum(columns[1:, None], edges[1:])
    along = np.clip((0.5 * (low + high) - edges[:-1]) / np.diff(edges), 0.0, 1.0)[..., None]
    colour = np.maximum(start * (1 - along) + end * along, 0.0) ** 3 - TOE
    return (np.maximum(high - low, 0.0)[..., None] * colour).sum(1)


def _blurred(light: np.ndarray, sigma: float) -> np.ndarray:
    apart = np.subtract.outer(np.arange(COLUMNS), np.arange(COLUMNS)) / sigma
    kernel = np.exp(-0.5 * apart**2)
    return kernel / kernel.sum(1, keepdims=True) @ light


def _mere_blend(found: Measured) -> int | None:
    """The narrowest stripe, where it is narrower than the doubt about its own edges: two others meet there, and
    nothing is woven."""
    widths, doubt = np.diff(found.edges), 2.0 * np.maximum(found.edges_sd[:-1], found.edges_sd[1:])
    narrowest = int(widths.argmin())
    return narrowest if len(widths) > 1 and widths[narrowest] < max(doubt[narrowest], NARROWEST) else None


def _one_stripe(found: Measured) -> int | None:
    """The first stripe that is one with the next: the same dye, or a shading that goes on just as evenly."""
    lengths = np.diff(found.edges)
    for k in range(len(lengths) - 1):
        first, last = found.start[k], found.end[k + 1]
        if found.shaded[k : k + 2].any():
            part = lengths[k] / (lengths[k] + lengths[k + 1])
            joint = first * (1 - part) + last * part
            if max(_apart(joint, found.end[k]), _apart(joint, found.start[k + 1])) < SAME_DYE:
                return k
        elif _apart(first, last) < SAME_DYE:
            return k
    return None


def _apart(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """CIEDE2000 between colours (..., 3) as seen, cube-root light."""
    labs = [lab_from_linear(np.maximum(colour, 0.0) ** 3 - TOE) for colour in (one, other)]
    return ciede2000(*labs)
