"""Which places on a picture are bars, and which rows they have: what finding is not sure of, the reading decides."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import cv2
import numpy as np

from ribbonbar.believing import BESIDE, is_a_bar, is_another, is_sure
from ribbonbar.photo.beside import with_row_beside
from ribbonbar.photo.finding import Search, apart, shared_area
from ribbonbar.photo.model import FoundBar
from ribbonbar.photo.patches import patches
from ribbonbar.photo.scales import Scales
from ribbonbar.photo.shading import Shading, shading_on
from ribbonbar.photo.silhouette import silhouette
from ribbonbar.rows import ReadBar, reads_as_well, recognised, unrecognised
from ribbonbar.worth import area, count, readings_of, tells, worth

READS_WELL = 0.34
"""Share of ribbons not recognised up to which a bar is taken as it was found."""
DIFFERS = 0.12
"""Share by which a bar's silhouette must differ from its rows for others to be tried although it reads well."""
LARGER = 0.4
"""How many ribbons' area those others must have more: what reads well is not cut down."""
GOES_ON = 0.2
"""How much more of its silhouette a part of a bar lacks than the bar."""
LEFT_OUT = 0.04
"""How much more of its silhouette other rows with a ribbon less may lack: where they were right 0.02 at most, and 0.06
at least where they left out a stranger (640 simulated pictures)."""
BETTER, KEPT = 0.08, 0.97
"""By what share of its area a choice must be better than the one that was found first, and what share of what was
recognised then must be left."""
NEW, GHOST = 0.3, 1.0
"""What new rows or longer ones must be worth, of their area; and log evidence below which what is read may be the bare
ground."""
MOSTLY = 0.8
"""Share of the smaller of two outlines that both cover, if they are one bar's."""
MOST_PLACES, MOST_PATCHES = 6, 3
"""Places read, at most, of those that finding was not sure of; and patches that merely stand out, where no place is
a bar."""
ANYWHERE = 0.0005
"""Confidence from which a place is worth reading where there is no bar: finding thinks little of a lone ribbon."""

Read = Callable[[FoundBar, Shading | None], ReadBar]
"""Reads a bar, with the shading that is to be taken out of it."""


def believed(search: Search, found: Sequence[FoundBar], read: Read) -> list[ReadBar]:
    """The bars on a picture, read by ``read``, of those ``found`` on it, surest first.

    Where there is none, or one is not read whole on a ground too uneven to say where it ends, they are sought again
    with the ground made plain.
    """
    bars = _believed(search, found, read)
    if bars and all(_stands_clear(bar, search.scales) for bar in bars):
        return bars
    plain = search.on_plain_ground()
    again = _believed(plain, plain.bars(), read)
    return again if _is_better(again, bars, search.scales) else bars


def _is_better(again: list[ReadBar], bars: list[ReadBar], scales: Scales) -> bool:
    """Whether what was found the second time is worth more, and not for leaving a stranger out of a good reading."""
    same = [(one, bar) for bar in bars for one in again if not apart(one.found.corners, bar.found.corners)]
    same = [(one, bar) for one, bar in same if _reads_well(bar) and _known(one) <= _known(bar)]
    gained = sum(map(worth, again)) > sum(map(worth, bars))
    return bool(again) and gained and not any(_leaves_out(one, bar, scales) for one, bar in same)


def _known(bar: ReadBar) -> int:
    """How many of a bar's ribbons tell something."""
    return sum(map(tells, readings_of(bar)))


def _stands_clear(bar: ReadBar, scales: Scales) -> bool:
    """Whether the ground shows where a bar ends: there, or every ribbon is known."""
    outline = silhouette(scales, bar.found)
    return outline is not None and (not unrecognised(bar.reading) or outline.share() <= DIFFERS)


def _believed(search: Search, found: Sequence[FoundBar], read: Read) -> list[ReadBar]:
    """The bars on a picture as it is.

    Where none of those found is a bar, the picture is searched again without them: a name plate may have outshone the
    bar. The places that finding thought unlikely are read too, beside the bars found or, where none reads well,
    anywhere: that a place holds ribbons of the catalogue, one after the other, says more than how its edges look. Last
    come patches that merely stand out from the picture's ground.
    """
    bars, tried = _of_those_found(found, search, read)
    if found and not bars:
        rest = search.without([one.corners for one in found])
        bars, more = _of_those_found(rest.bars(), rest, read)
        tried += more
    sure = any(map(is_sure, bars)) and all(map(_reads_well, bars))
    known = [bar.found.corners for bar in bars] if sure else []
    for place in search.places(BESIDE if bars else ANYWHERE, known)[:MOST_PLACES]:
        if any(_is_same(place, one) for one in tried):
            continue
        rivals = [bar for bar in bars if not apart(bar.found.corners, place.corners)]
        if any(map(_reads_well, rivals)):
            continue
        again = _reread(place, search, read)
        if sure and not is_another(again):
            continue
        better = not rivals or worth(again) > sum(map(worth, rivals)) + BETTER * area(again.found)
        if not better or any(_is_cut_from(again.found, rival, search.scales) for rival in rivals):
            continue
        if is_a_bar(again, search.scales):
            bars = [bar for bar in bars if all(bar is not rival for rival in rivals)] + [again]
    if not bars:
        bars = [_reread(patch, search, read) for patch in patches(search.scales)[:MOST_PATCHES]]
        bars = [bar for bar in bars if is_a_bar(bar, search.scales)]
    if not any(map(is_sure, bars)):
        return sorted(bars, key=worth)[-1:]
    return [bar for bar in bars if is_sure(bar) or is_another(bar)]


def _of_those_found(found: Sequence[FoundBar], search: Search, read: Read) -> tuple[list[ReadBar], list[FoundBar]]:
    """The bars among finds, surest first, and which of the finds were read."""
    bars: list[ReadBar] = []
    tried: list[FoundBar] = []
    for one in found:
        if all(apart(bar.found.corners, one.corners) for bar in bars):
            tried.append(one)
            bar = _reread(one, search, read)
            if is_a_bar(bar, search.scales):
                bars.append(bar)
    return bars, tried


def _is_same(one: FoundBar, other: FoundBar) -> bool:
    """Whether two finds have the very same rows: read again, they say the same again."""
    pairs = zip(one.rows, other.rows, strict=False)
    return len(one.rows) == len(other.rows) and all(np.array_equal(a.corners, b.corners) for a, b in pairs)


def _is_cut_from(part: FoundBar, bar: ReadBar, scales: Scales) -> bool:
    """Whether a place is a part of a bar's patch that goes on beyond it, and the bar is all of the patch: a ribbon that
    nobody knows is not left out for that."""
    if _is_larger(part, bar):
        return False
    whole, own = silhouette(scales, bar.found), silhouette(scales, part)
    return whole is not None and own is not None and own.share() > whole.share() + GOES_ON


def _reread(found: FoundBar, search: Search, read: Read) -> ReadBar:
    bar = _reconsidered(read(found, None), search.scales, read)
    more = [read(one, None) for one in with_row_beside(search.scales, bar.found)]
    return max((one for one in more if _has_more(one, bar)), key=worth, default=bar)


def _reconsidered(bar: ReadBar, scales: Scales, read: Read) -> ReadBar:
    """The bar, or what reads better: the other rows that its silhouette allows; its rows without the shading that the
    ground beside it shows."""
    outline = silhouette(scales, bar.found)
    if outline is None or not (unrecognised(bar.reading) or outline.share() > DIFFERS):
        return bar
    others = [one for one in outline.other_rows(scales) if _covers(one, bar.found)]
    if all(recognised(reading) and reading.margin >= GHOST for reading in readings_of(bar)):
        others = [one for one in others if _is_larger(one, bar)]
    bar = _best(bar, [read(replace(one, confidence=bar.found.confidence), None) for one in others], scales)
    shading = shading_on(outline) if unrecognised(bar.reading) else None
    return _best(bar, [read(bar.found, shading)], scales) if shading else bar


def _best(bar: ReadBar, others: list[ReadBar], scales: Scales) -> ReadBar:
    better = [one for one in others if _reads_better(one, bar) or _has_more(one, bar) or _has_no_ghost(one, bar)]
    return max((one for one in better if not _leaves_out(one, bar, scales)), key=worth, default=bar)


def _leaves_out(other: ReadBar, bar: ReadBar, scales: Scales) -> bool:
    """Whether other rows have a ribbon less and the silhouette does not bear them out: a stranger reads badly, and is a
    ribbon all the same."""
    if not _is_larger(bar.found, other):
        return False
    whole, own = silhouette(scales, bar.found), silhouette(scales, other.found)
    return whole is None or own is None or own.share() > whole.share() + LEFT_OUT


def _covers(other: FoundBar, bar: FoundBar) -> bool:
    """Whether other rows are rows of the same bar: they cover most of what was found, or are covered by it."""
    shared = shared_area(other.corners, bar.corners)
    return shared > MOSTLY * min(_outline_area(other), _outline_area(bar))


def _reads_better(other: ReadBar, bar: ReadBar) -> bool:
    """Whether a larger share of other rows is recognised and hardly less in all; what was all so is not cut down."""
    if not unrecognised(bar.reading):
        return False
    share, before = worth(other) / area(other.found), worth(bar) / area(bar.found)
    return share > before + BETTER and worth(other) > KEPT * worth(bar)


def _has_more(other: ReadBar, bar: ReadBar) -> bool:
    """Whether larger rows read as well and hold another ribbon of several stripes and enough of what is new: a name
    plate close by is not a row, nor is plain cloth."""
    if not _is_larger(other.found, bar) or not reads_as_well(other.reading, bar.reading):
        return False
    return _known(other) > _known(bar) and worth(other) - worth(bar) > NEW * (area(other.found) - area(bar.found))


def _has_no_ghost(other: ReadBar, bar: ReadBar) -> bool:
    """Whether fewer ribbons read as well, and what they lack is no likelier a ribbon than any pattern."""
    lost = count(bar) - count(other)
    ghosts = _ghosts(bar) - _ghosts(other)
    return 0 < lost == ghosts and reads_as_well(other.reading, bar.reading)


def _ghosts(bar: ReadBar) -> int:
    return sum(reading.margin < GHOST for reading in readings_of(bar))


def _is_larger(other: FoundBar, bar: ReadBar) -> bool:
    """Whether other rows have room for a ribbon more."""
    return area(other) > area(bar.found) * (1 + LARGER / count(bar))


def _outline_area(bar: FoundBar) -> float:
    return float(cv2.contourArea(np.asarray(bar.corners, np.float32)))


def _reads_well(bar: ReadBar) -> bool:
    return unrecognised(bar.reading) <= READS_WELL
