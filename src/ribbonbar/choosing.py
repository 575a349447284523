"""Which places on a picture are bars: what finding is not sure of, the reading decides."""

from collections.abc import Callable, Sequence

from ribbonbar.photo.finding import apart, find_places
from ribbonbar.photo.model import FoundBar, Picture
from ribbonbar.reading.model import Reading
from ribbonbar.rows import PLAIN, ReadBar, unrecognised

SURE = 0.75
"""Confidence of a find from which one ribbon that can be named is enough."""
READS_WELL = 0.34
"""Share of ribbons not recognised up to which no other place is looked for a better reading."""
TELLING = 2
"""Ribbons of several stripes that must be recognised before an unsure find is believed: plain ones are everywhere."""
LEAST_RECOGNISED = 0.5
"""Share of an unsure find's ribbons that must be recognised."""
MOST_PLACES = 6
"""Places read, at most, where no sure one reads well."""


def believed(picture: Picture, found: Sequence[FoundBar], read: Callable[[FoundBar], ReadBar]) -> list[ReadBar]:
    """The bars on a picture, read by ``read``, of those ``found`` on it, surest first.

    Where nothing is found that reads well, the places that finding thought unlikely are read too: that a place holds
    ribbons of the catalogue, one after the other, says more than how its edges look.
    """
    bars = [bar for number, bar in enumerate(map(read, found)) if _is_a_bar(bar, number == 0)]
    if bars and all(unrecognised(bar.reading) <= READS_WELL for bar in bars):
        return bars
    for place in find_places(picture)[:MOST_PLACES]:
        rivals = [bar for bar in bars if not apart(bar.found.corners, place.corners)]
        if any(unrecognised(bar.reading) <= READS_WELL for bar in rivals):
            continue
        again = read(place)
        if _is_a_bar(again, False) and _worth(again) > sum(map(_worth, rivals)):
            bars = [bar for bar in bars if all(bar is not rival for rival in rivals)] + [again]
    return bars


def _is_a_bar(bar: ReadBar, first: bool) -> bool:
    """True when what was read is likelier a ribbon bar than a stray pattern: a sure find, or the ``first``, needs one
    ribbon that can be named, any other needs several with stripes and most of its ribbons recognised."""
    readings = _readings(bar)
    if first or bar.found.confidence > SURE:
        return any(reading.status != "unidentified" for reading in readings)
    return sum(map(_tells, readings)) >= TELLING and unrecognised(bar.reading) <= LEAST_RECOGNISED


def _worth(bar: ReadBar) -> float:
    """Ribbons of several stripes recognised, less half of those not recognised."""
    return sum(map(_tells, _readings(bar))) - 0.5 * sum(r.status == "unidentified" for r in _readings(bar))


def _tells(reading: Reading) -> bool:
    return reading.status != "unidentified" and reading.free < PLAIN


def _readings(bar: ReadBar) -> list[Reading]:
    return [reading for row in bar.reading.rows for reading in row]
