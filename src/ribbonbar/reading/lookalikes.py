"""Ribbons that are one cloth by specification, and those that a good photograph could hardly tell apart."""

from dataclasses import dataclass

import numpy as np

from ribbonbar.reading.confidence import CALIBRATION, SURE
from ribbonbar.reading.decode import Loom, quick_evidence, set_up, shine_on
from ribbonbar.reading.evidence import coarse_scatter
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.observe import Outlines, Segments, by_channel, coarser, edge_rows, side_by_side
from ribbonbar.reading.templates import ROWS, Bank, Family
from ribbonbar.reading.weigh import weigh

GOOD_PHOTO = 9.0
"""Photo pixels a millimetre: a bar of four 32 mm ribbons over a third of the width of a 12 megapixel picture."""


@dataclass(frozen=True)
class Pair:
    """Two patterns (indices into the bank's) that a good photograph hardly tells apart.

    ``turned`` is True when the second is like the first only back to front. ``behind`` is how much log evidence the
    second lacks (below zero: it even has more) where the first is what is photographed, or the other way about,
    whichever is less: 0 cannot be told apart at all.
    """

    first: int
    second: int
    turned: bool
    behind: float


def limit() -> float:
    """Log evidence behind the best from which the reading calls a ribbon identified where there is one other choice."""
    return float(np.log(SURE / (1.0 - SURE)) / CALIBRATION.sharpness)


def same_cloth(bank: Bank) -> list[int]:
    """The patterns (indices) that several awards have, those of most awards first."""
    shared = {number: len({award for award, _ in p.names}) for number, p in enumerate(bank.patterns)}
    return sorted((number for number, awards in shared.items() if awards > 1), key=lambda number: -shared[number])


def hardly_told_apart(bank: Bank, pixels_per_mm: float = GOOD_PHOTO) -> list[Pair]:
    """The pairs of patterns between which the reading would say ``ambiguous``, hardest first.

    Each pattern is shown to the reading as a faultless photograph of ``pixels_per_mm`` in ordinary light would show it;
    what the reading then holds of all others, with every freedom that it gives to cloth, dye and light, is its own
    prediction of what it would mix up. A pair counts if it is mixed up either way about. Two patterns of one and the
    same award are no pair: whichever is worn, the award is the same.
    """
    loom = set_up(bank, pixels_per_mm)
    shown = np.concatenate([_first_of_each(bank.vertical), _first_of_each(bank.slanted) + len(loom.vertical)])
    segments = _photographed(loom, shown)
    quick = quick_evidence(_outlines(segments), shine_on(loom, NEUTRAL).quick)
    found: dict[tuple[int, int], Pair] = {}
    for number, own in enumerate(loom.pattern[shown].tolist()):
        for pair in _mixed_up(own, segments, number, quick[number], loom):
            key = (min(pair.first, pair.second), max(pair.first, pair.second))
            if key not in found or pair.behind < found[key].behind:
                found[key] = Pair(*key, pair.turned, pair.behind)
    return sorted(found.values(), key=lambda pair: (pair.behind, pair.first, pair.second))


def _mixed_up(own: int, segments: Segments, number: int, quick: np.ndarray, loom: Loom) -> list[Pair]:
    """The patterns that the reading would not rule out where pattern ``own`` is what it sees, each at its best."""
    weighed = weigh(segments, number, quick, loom, NEUTRAL)
    best = next(one.log_evidence for one in weighed if loom.pattern[one.template] == own)
    others: dict[int, Pair] = {}
    for one in weighed:
        other = int(loom.pattern[one.template])
        if best - one.log_evidence < limit() and _awards(loom.bank, other) != _awards(loom.bank, own):
            turned = bool(loom.reversed[one.template])
            others.setdefault(other, Pair(own, other, turned, float(best - one.log_evidence)))
    return list(others.values())


def _awards(bank: Bank, pattern: int) -> set[str]:
    return {award for award, _ in bank.patterns[pattern].names}


def _first_of_each(family: Family) -> np.ndarray:
    """The first template of each pattern: the right way round and, of a diagonal, its first phase."""
    return np.unique(family.pattern, return_index=True)[1] if len(family) else np.empty(0, int)


def _photographed(loom: Loom, shown: np.ndarray) -> Segments:
    """The templates ``shown`` as a photograph without noise, emblem or clipping would show them."""
    upright = len(loom.vertical)
    vertical = np.repeat(loom.vertical[shown[shown < upright], None], ROWS, axis=1)
    cells = NEUTRAL.shine(np.concatenate([vertical, loom.slanted(shown[shown >= upright] - upright)]))
    return Segments(cells, np.ones(cells.shape[:3], np.float32), np.zeros_like(cells))


def _outlines(segments: Segments) -> Outlines:
    """What the quick comparison looks at, of whole segments."""
    profile = segments.profile
    scatter = coarse_scatter(segments.cells - profile[:, None])
    edges = by_channel(edge_rows(segments.cells)).swapaxes(1, 2)
    return Outlines(coarser(by_channel(profile), 2), side_by_side(coarser(edges, 2)), scatter)
