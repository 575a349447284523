"""Where one ribbon ends and the next begins: every way to divide a row into ribbons of the catalogue's widths."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations, product

import numpy as np

ASPECT_TOLERANCE = 0.09
"""Standard deviation of the logarithm of (row width / row height) against what its ribbons should give: rows are cut
8 to 13 mm tall, and a tilted camera shortens one way."""
USUALLY, LEAST, MOST = 3.5 * ASPECT_TOLERANCE, -0.5, 0.51
"""How far that logarithm may be off; and where all ribbons are of one width, at least and at most: a row seen as tall
as 16.5 mm (cut tall, and seen from its end), and one seen as low as 6 (cut low, and seen from below)."""
FAR = 60.0
"""Log odds against a row that is seen so tall or so low: ribbons that are known say more, a bar of strangers less."""
MOST_CLASSES, RARE = 3, 0.02
"""Most width classes, and the least share of the catalogue that makes one."""
MOST_RIBBONS = 10
ODD_WIDTH_COST = 2.5
"""Log odds against a ribbon that keeps a width of its own among standard ones (common practice, no source)."""


@dataclass(frozen=True)
class Division:
    """One way to divide a row. ``edges`` (n + 1,) in columns, ``classes`` (n,) index the catalogue's width classes,
    ``log_prior`` says how likely it is before the picture is looked at."""

    edges: np.ndarray
    classes: tuple[int, ...]
    log_prior: float


def width_classes(widths: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The catalogue's width classes in mm, commonest first, and the class of each of ``widths`` (P,).

    Widths within a millimetre and a half of a commoner one cannot be told from it on a photograph and join it; so do,
    with the nearest, widths that hardly any ribbon has (sashes and the like).
    """
    values, counts = np.unique(np.round(widths, 1), return_counts=True)
    centres: list[float] = []
    for value in values[np.argsort(-counts, kind="stable")]:
        share = np.mean(np.abs(widths - value) <= 1.5)
        if len(centres) < MOST_CLASSES and share >= RARE and all(abs(value - centre) > 1.5 for centre in centres):
            centres.append(float(value))
    classes = np.array(centres or [float(values[counts.argmax()])])
    return classes, np.abs(np.asarray(widths)[:, None] - classes[None]).argmin(1)


def divisions(start: float, end: float, columns_per_mm: float, classes: np.ndarray) -> list[Division]:
    """Every division of a row from column ``start`` to ``end`` whose ribbons' widths fit its length within the aspect
    tolerance; where none does, even division into the number that comes nearest."""
    length = end - start
    fitting = []
    for count in range(1, MOST_RIBBONS + 1):
        stretch = np.log(length / columns_per_mm / (count * classes[0]))
        if not LEAST - ASPECT_TOLERANCE < stretch < MOST + ASPECT_TOLERANCE:
            continue
        sequences, tuples = _sequences(count, len(classes))
        reach = np.cumsum(classes[sequences], axis=1)
        stretch = np.log(length / columns_per_mm / reach[:, -1])
        even = (sequences == sequences[:, :1]).all(1)
        odd = np.where(even, sequences[:, 0] > 0, (sequences > 0).sum(1))
        far = np.abs(stretch) > USUALLY
        prior = -0.5 * (stretch / ASPECT_TOLERANCE) ** 2 - ODD_WIDTH_COST * odd - FAR * far
        edges = start + np.pad(reach / reach[:, -1:], ((0, 0), (1, 0))) * length
        allowed = ~far | (even & (stretch >= LEAST) & (stretch <= MOST))
        for number in np.flatnonzero(allowed):
            fitting.append(Division(edges[number], tuples[number], float(prior[number])))
    if fitting:
        return fitting
    count = int(np.clip(round(length / columns_per_mm / classes[0]), 1, MOST_RIBBONS))
    return [Division(np.linspace(start, end, count + 1), (0,) * count, 0.0)]


@cache
def _sequences(count: int, classes: int) -> tuple[np.ndarray, list[tuple[int, ...]]]:
    """Width classes (N, count) of as many ribbons, and the same as tuples: all of one class, or one or two odd ones
    among the commonest class."""
    found = dict.fromkeys((only,) * count for only in range(classes))
    for first, second in combinations(range(count), 2) if count > 2 else [(0, 0), (1, 1)][:count]:
        for one, two in product(range(classes), repeat=2):
            found.setdefault(tuple(one if k == first else two if k == second else 0 for k in range(count)))
    return np.array(list(found)), list(found)


@dataclass(frozen=True)
class Spans:
    """The ribbons of many divisions, those that several share once: ``starts`` and ``ends`` (S,) in columns, to half of
    one; ``ribbon`` (N,) which of them are each division's, one division after the other; ``first`` (D,) where each
    division's begin."""

    starts: np.ndarray
    ends: np.ndarray
    ribbon: np.ndarray
    first: np.ndarray

    @staticmethod
    def of(edges: Sequence[np.ndarray]) -> "Spans":
        """The ribbons between the edges (n + 1,) of divisions."""
        halves = np.round(2 * np.concatenate(edges)).astype(int)
        begun = np.cumsum([0] + [len(each) for each in edges])[:-1]  # where each division's edges begin
        starts, ends = np.delete(halves, np.append(begun[1:] - 1, len(halves) - 1)), np.delete(halves, begun)
        low, most = ends.min(), int(np.ptp(ends)) + 1
        pairs, ribbon = np.unique(starts * most + (ends - low), return_inverse=True)
        return Spans(pairs // most / 2, (pairs % most + low) / 2, ribbon, begun - np.arange(len(begun)))

    def totals(self, worth: np.ndarray) -> np.ndarray:
        """Sums (D,) over each division's ribbons of ``worth`` (N,)."""
        return np.add.reduceat(worth, self.first)

    def members(self, division: int) -> np.ndarray:
        """Which of the ribbons are one division's, from left to right."""
        last = self.first[division + 1] if division + 1 < len(self.first) else None
        return self.ribbon[self.first[division] : last]
