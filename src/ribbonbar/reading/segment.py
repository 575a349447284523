"""Where one ribbon ends and the next begins: every way to divide a row into ribbons of the catalogue's widths."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

ASPECT_TOLERANCE = 0.09
"""Standard deviation of the logarithm of (row width / row height) against what its ribbons should give: rows are cut
8 to 13 mm tall, and a tilted camera shortens one way."""
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
    fitting = list(_fitting(start, end, columns_per_mm, classes))
    if fitting:
        return fitting
    count = int(np.clip(round((end - start) / columns_per_mm / classes[0]), 1, MOST_RIBBONS))
    return [Division(np.linspace(start, end, count + 1), (0,) * count, 0.0)]


def _fitting(start: float, end: float, columns_per_mm: float, classes: np.ndarray) -> Iterator[Division]:
    length_mm = (end - start) / columns_per_mm
    for count in range(1, MOST_RIBBONS + 1):
        if abs(np.log(length_mm / (count * classes[0]))) > 4.5 * ASPECT_TOLERANCE:
            continue
        for sequence in _sequences(count, len(classes)):
            widths = classes[list(sequence)]
            stretch = np.log(length_mm / widths.sum())
            if abs(stretch) > 3.5 * ASPECT_TOLERANCE:
                continue
            edges = start + np.concatenate([[0.0], np.cumsum(widths)]) / widths.sum() * (end - start)
            odd = 1 if len(set(sequence)) == 1 and sequence[0] else sum(c > 0 for c in sequence)
            yield Division(edges, sequence, float(-0.5 * (stretch / ASPECT_TOLERANCE) ** 2 - ODD_WIDTH_COST * odd))


def _sequences(count: int, classes: int) -> Iterator[tuple[int, ...]]:
    """Width classes of ``count`` ribbons: all of one class, or one or two odd ones among the commonest class."""
    for only in range(classes):
        yield (only,) * count
    others = range(1, classes)
    for first, one in product(range(count), others):
        if count > 1:
            yield (0,) * first + (one,) + (0,) * (count - first - 1)
        for second, two in product(range(first + 1, count), others):
            if count > 2:
                yield tuple(one if k == first else two if k == second else 0 for k in range(count))
