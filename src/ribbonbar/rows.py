"""Second thoughts about a bar's rows, once they have been read: what finding cannot know, the ribbons can tell."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ribbonbar.photo.finding import bar_outline
from ribbonbar.photo.model import FoundBar, Row, Strip
from ribbonbar.reading.model import BarReading, Reading

DOUBTFUL = 0.4
"""Share of ribbons not recognised from which the rows are looked at again."""
RECOGNISED = 0.8
"""Probability of being in the catalogue from which a ribbon counts as recognised: name plates reach one half."""
BETTER = 0.2
"""How much smaller that share must be for rows joined to be believed."""
MOST_JOINED = 6
"""Rows of a bar up to which neighbours are tried as one: more lines than that are a pattern of something else, and each
try is a reading of the whole bar."""
PLAIN = -30.0
"""Free log evidence above which there is nothing but one colour: ground, where no ribbon is recognised."""


@dataclass(frozen=True)
class ReadBar:
    """A bar found, its rows made flat, and what was read of them."""

    found: FoundBar
    strips: tuple[Strip, ...]
    reading: BarReading


def with_second_thoughts(bar: ReadBar, read: Callable[[FoundBar], ReadBar]) -> ReadBar:
    """The bar, or the variant of its rows that reads better; ``read`` reads a variant.

    A first or last row of plain ground is left out. Where much is not recognised, neighbouring rows are tried as one:
    a ribbon with level bands, or a metal frame, has edges along the row that can be taken for a row's.
    """
    kept = [row for row, said in zip(bar.found.rows, bar.reading.rows, strict=True) if not _is_ground(said)]
    if kept and len(kept) < len(bar.found.rows):
        bar = read(replace(bar.found, rows=tuple(kept), corners=bar_outline(tuple(row.corners for row in kept))))
    if unrecognised(bar.reading) >= DOUBTFUL and len(bar.found.rows) <= MOST_JOINED:
        for merged in _merged(bar.found):
            again = read(merged)
            if unrecognised(again.reading) < unrecognised(bar.reading) - BETTER:
                bar = again
    return bar


def _is_ground(readings: tuple[Reading, ...]) -> bool:
    return all(not recognised(reading) and reading.free > PLAIN for reading in readings)


def recognised(reading: Reading) -> bool:
    """Whether a ribbon is so surely one of the catalogue's that it says something about where the rows are."""
    return reading.known >= RECOGNISED


def unrecognised(bar: BarReading) -> float:
    """Share of a bar's ribbons that are not recognised."""
    readings = [reading for row in bar.rows for reading in row]
    return sum(not recognised(reading) for reading in readings) / len(readings)


def _merged(found: FoundBar) -> Iterator[FoundBar]:
    """The bar with two neighbouring rows of like length as one, for each such pair."""
    for upper, lower in pairwise(range(len(found.rows))):
        above, below = (np.asarray(found.rows[k].corners, float) for k in (upper, lower))
        length = np.linalg.norm(above[1] - above[0])
        if abs(np.linalg.norm(below[1] - below[0]) - length) > 0.15 * length:
            continue
        joined = Row(np.array([above[0], above[1], below[2], below[3]]))
        yield replace(found, rows=(*found.rows[:upper], joined, *found.rows[lower + 1 :]))
