"""Which places on a picture are bars, and which rows they have: what finding is not sure of, the reading decides."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import cv2
import numpy as np

from ribbonbar.photo.beside import with_row_beside
from ribbonbar.photo.finding import Search, apart, shared_area
from ribbonbar.photo.model import FoundBar, Row
from ribbonbar.photo.patches import patches
from ribbonbar.photo.scales import Scales
from ribbonbar.photo.shading import Shading, shading_on
from ribbonbar.photo.silhouette import silhouette
from ribbonbar.reading.model import Reading
from ribbonbar.rows import FITS, ReadBar, reads_as_well, recognised, unrecognised

SURE = 0.75
"""Confidence of a find from which one ribbon that can be named is enough."""
READS_WELL = 0.34
"""Share of ribbons not recognised up to which a bar is taken as it was found."""
DIFFERS = 0.12
"""Share by which a bar's silhouette must differ from its rows for others to be tried although it reads well."""
LARGER = 0.4
"""How many ribbons' area those others must have more: what reads well is not cut down."""
LIKELY, TELLING, LIKELY_TELLING = 0.5, 3, 2
"""Different ribbons of several stripes that must be recognised before an unsure find is believed, and before a likely
one is: plain ones are everywhere, and what repeats itself is a pattern of something else."""
CLEARLY_KNOWN, BY_FAR = 0.975, 10.5
"""Probability of being in the catalogue, and log evidence against the best pattern that is in none, from which one
ribbon of three stripes or more will do instead: what reads as shading reaches 9, name plates and pens read as two."""
PLAINLY_ONE, FEW_EDGES, MOST_EDGES = 0.98, 2, 6
"""Probability of a ribbon's likeliest look, as good as certain, from which so many edges will do, if no ribbon
stands there twice; and how many edges of one ribbon count."""
ONE_LOOK = 0.9
"""Probability of a ribbon's likeliest look from which it looks like no other."""
MOST_EMBLEMS, FINE = 4, 2.0
"""Emblems on a ribbon of an unsure find beyond which they are letters; and photo pixels of its narrowest stripe below
which it says nothing."""
REPEATS, REPEATED = 1, 0.3
"""Identified ribbons that may be another's repetition, an award being worn once, since one may be misread; and the
share of all that are recognised."""
LOWEST, TALLEST, FORESHORTENED = 9.0, 12.0, 13.5
"""Of what lies by itself: millimetres between which its rows are tall (common practice, no source: about 10), the last
for a find that may well be a bar, seen from the side."""
WRITTEN, BY_ITSELF = 0.15, 0.15
"""Share of a ribbon's width on which something may stand out from the cloth, half of it on name plates, emblems aside;
and share by which its silhouette may differ from its rows."""
MANY_STRIPES, UNMARKED, EXACTLY = -60.0, 0.05, 0.08
"""Free log evidence below which there are four stripes or more; share of its width where anything stands out from them;
and share by which the silhouette may differ, for a place to be a bar for its stripes alone."""
ALL_WRITTEN = 0.42
"""That share from which nothing is a bar: emblems leave more of it, 0.39 at most on 92 rendered bars and 0.34 on 99 of
100 simulated ones."""
GOES_ON = 0.2
"""How much more of its silhouette a part of a bar lacks than the bar."""
LEFT_OUT = 0.1
"""How much more of its silhouette other rows with a ribbon less may lack: where they were right 0.02 at most, and 0.14
at least where they left out a stranger (800 simulated pictures)."""
MAY_BE, STRIPED, HALF = 0.27, -25.0, 0.5
"""Confidence of such a find from which nothing of it need be recognised, if the free log evidence of one ribbon is
below the second: it is not all of one colour; and share of the ribbons that need not be where one is clear. Of 35 bars
of one or two ribbons missed otherwise 20 have such a place, of 300 simulated pictures without a bar three."""
MUST_TELL, LEAST_TELLING, MOST_TELLING = 1.3, 0.1, 0.8
"""Share of an unsure find's area that must be worth something: so much for what its confidence lacks, at least and at
most so much. Real bars found with a confidence of 0.1 are read whole."""
UNKNOWN_WORTH, BETTER, KEPT = -0.5, 0.08, 0.97
"""What a ribbon that is not recognised is worth against one of several stripes that is; by what share of its area a
choice must be better than the one that was found first, and what share of what was recognised then must be left."""
NEW, GHOST = 0.3, 1.0
"""What new rows or longer ones must be worth, of their area; and log evidence below which what is read may be the bare
ground."""
MOSTLY = 0.8
"""Share of the smaller of two outlines that both cover, if they are one bar's."""
USUAL_WIDTH, TALL = 32.0, (6.5, 16.5)
"""Millimetres: width of a ribbon (common practice, no source), and between which a row's height may be."""
OTHER_WIDTH = 0.22
"""Logarithm by which one row's ribbons may be wider than most: four read as three are off by 0.29, 38 on 32 mm 0.17."""
MOST_PLACES, MOST_PATCHES = 6, 3
"""Places read, at most, of those that finding was not sure of; and patches that merely stand out, where no place is
a bar."""
BESIDE, ANYWHERE = 0.015, 0.0005
"""Confidence from which a place is worth reading, beside other bars and where there is none: finding thinks little of a
lone ribbon."""

Read = Callable[[FoundBar, Shading | None], ReadBar]
"""Reads a bar, with the shading that is to be taken out of it."""


def believed(search: Search, found: Sequence[FoundBar], read: Read) -> list[ReadBar]:
    """The bars on a picture, read by ``read``, of those ``found`` on it, surest first.

    Where none is a bar, the picture is searched again without them: a name plate may have outshone the bar. The places
    that finding thought unlikely are read too, beside the bars found or, where none reads well, anywhere: that a place
    holds ribbons of the catalogue, one after the other, says more than how its edges look. Last come patches that
    merely stand out from the picture's ground.
    """
    bars, tried = _of_those_found(found, search, read)
    if found and not bars:
        rest = search.without([one.corners for one in found])
        bars, more = _of_those_found(rest.bars(), rest, read)
        tried += more
    sure = any(map(_is_sure, bars)) and all(map(_reads_well, bars))
    known = [bar.found.corners for bar in bars] if sure else []
    for place in search.places(BESIDE if bars else ANYWHERE, known)[:MOST_PLACES]:
        if any(_is_same(place, one) for one in tried):
            continue
        rivals = [bar for bar in bars if not apart(bar.found.corners, place.corners)]
        if any(map(_reads_well, rivals)):
            continue
        again = _reread(place, search, read)
        if sure and not _is_another(again):
            continue
        better = not rivals or _worth(again) > sum(map(_worth, rivals)) + BETTER * _area(again.found)
        if not better or any(_is_cut_from(again.found, rival, search.scales) for rival in rivals):
            continue
        if _is_a_bar(again, search.scales):
            bars = [bar for bar in bars if all(bar is not rival for rival in rivals)] + [again]
    if not bars:
        bars = [_reread(patch, search, read) for patch in patches(search.scales)[:MOST_PATCHES]]
        bars = [bar for bar in bars if _is_a_bar(bar, search.scales)]
    if not any(map(_is_sure, bars)):
        return sorted(bars, key=_worth)[-1:]
    return [bar for bar in bars if _is_sure(bar) or _is_another(bar)]


def _of_those_found(found: Sequence[FoundBar], search: Search, read: Read) -> tuple[list[ReadBar], list[FoundBar]]:
    """The bars among finds, surest first, and which of the finds were read."""
    bars: list[ReadBar] = []
    tried: list[FoundBar] = []
    for one in found:
        if all(apart(bar.found.corners, one.corners) for bar in bars):
            tried.append(one)
            bar = _reread(one, search, read)
            if _is_a_bar(bar, search.scales):
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


def _is_sure(bar: ReadBar) -> bool:
    """Whether a find needs no other to be compared with; where none is, the best alone is believed."""
    return bar.found.confidence > SURE


def _is_another(bar: ReadBar) -> bool:
    """Whether what lies beside a sure bar is a second one: name plates are worn there."""
    clear = [r for r in _readings(bar) if _tells(r) and r.likeliest >= ONE_LOOK]
    if len(_different(clear)) >= TELLING and _worth(bar) >= MOST_TELLING * _area(bar.found):
        return True
    surely = [r for r in clear if r.stripes > FEW_EDGES and r.likeliest >= PLAINLY_ONE and r.free + r.margin >= FITS]
    return len(_different(surely)) >= LIKELY_TELLING and unrecognised(bar.reading) <= HALF


def _reread(found: FoundBar, search: Search, read: Read) -> ReadBar:
    bar = _reconsidered(read(found, None), search.scales, read)
    more = [read(one, None) for one in with_row_beside(search.scales, bar.found)]
    return max((one for one in more if _has_more(one, bar)), key=_worth, default=bar)


def _reconsidered(bar: ReadBar, scales: Scales, read: Read) -> ReadBar:
    """The bar, or what reads better: the other rows that its silhouette allows; its rows without the shading that the
    ground beside it shows."""
    outline = silhouette(scales, bar.found)
    if outline is None or not (unrecognised(bar.reading) or outline.share() > DIFFERS):
        return bar
    others = [one for one in outline.other_rows(scales) if _covers(one, bar.found)]
    if all(recognised(reading) and reading.margin >= GHOST for reading in _readings(bar)):
        others = [one for one in others if _is_larger(one, bar)]
    bar = _best(bar, [read(replace(one, confidence=bar.found.confidence), None) for one in others], scales)
    shading = shading_on(outline) if unrecognised(bar.reading) else None
    return _best(bar, [read(bar.found, shading)], scales) if shading else bar


def _best(bar: ReadBar, others: list[ReadBar], scales: Scales) -> ReadBar:
    better = [one for one in others if _reads_better(one, bar) or _has_more(one, bar) or _has_no_ghost(one, bar)]
    return max((one for one in better if not _leaves_out(one, bar, scales)), key=_worth, default=bar)


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
    share, before = _worth(other) / _area(other.found), _worth(bar) / _area(bar.found)
    return share > before + BETTER and _worth(other) > KEPT * _worth(bar)


def _has_more(other: ReadBar, bar: ReadBar) -> bool:
    """Whether larger rows read as well and hold another ribbon of several stripes and enough of what is new: a name
    plate close by is not a row, nor is plain cloth."""
    if not _is_larger(other.found, bar) or not reads_as_well(other.reading, bar.reading):
        return False
    more = sum(map(_tells, _readings(other))) > sum(map(_tells, _readings(bar)))
    return more and _worth(other) - _worth(bar) > NEW * (_area(other.found) - _area(bar.found))


def _has_no_ghost(other: ReadBar, bar: ReadBar) -> bool:
    """Whether fewer ribbons read as well, and what they lack is no likelier a ribbon than any pattern."""
    lost = _count(bar) - _count(other)
    ghosts = sum(reading.margin < GHOST for reading in _readings(bar)) - sum(r.margin < GHOST for r in _readings(other))
    return 0 < lost == ghosts and reads_as_well(other.reading, bar.reading)


def _is_larger(other: FoundBar, bar: ReadBar) -> bool:
    """Whether other rows have room for a ribbon more."""
    return _area(other) > _area(bar.found) * (1 + LARGER / _count(bar))


def _area(bar: FoundBar) -> float:
    return sum(map(_row_area, bar.rows))


def _outline_area(bar: FoundBar) -> float:
    return float(cv2.contourArea(np.asarray(bar.corners, np.float32)))


def _row_area(row: Row) -> float:
    return float(cv2.contourArea(np.asarray(row.corners, np.float32)))


def _is_a_bar(bar: ReadBar, scales: Scales) -> bool:
    """True when what was read is likelier a ribbon bar than a stray pattern, a name plate or a ruler's marks say.

    A sure find needs a ribbon of three stripes, or two of two, that look like one pattern and no other; the less sure,
    the more of it must be recognised: several ribbons, or one so surely that it is nothing else; or it must lie there
    by itself as a bar does. What repeats itself is none, nor is what is written on all over.
    """
    readings = list(filter(_tells, _readings(bar)))
    named = [reading for reading in readings if reading.status == "identified"]
    if len(named) - len(_different(named)) > REPEATS:
        return False
    own = [reading for reading in readings if not _is_shared(reading)]
    if len(own) - len(_different(own)) > max(REPEATS, REPEATED * len(own)):
        return False
    if np.mean([reading.covered for reading in _readings(bar)]) > ALL_WRITTEN:
        return False
    return _is_recognised(bar, readings) or _lies_by_itself(bar, scales)


def _is_recognised(bar: ReadBar, readings: list[Reading]) -> bool:
    """Whether enough of a bar is recognised for a find so sure; ``readings`` are the ribbons that tell. Two known by
    far are enough for any, if they are half of it."""
    lacking = SURE - bar.found.confidence
    if lacking <= 0:
        return _edges([r for r in readings if r.likeliest >= ONE_LOOK]) >= FEW_EDGES
    readings = [r for r in readings if len(r.emblems) <= MOST_EMBLEMS and r.pixels_per_stripe >= FINE]
    least = TELLING if bar.found.confidence < LIKELY else LIKELY_TELLING
    clear = [r for r in readings if r.likeliest >= ONE_LOOK or bar.found.confidence >= BESIDE]
    enough = len(_different(clear)) >= least and _edges(clear) > least
    if len(_different(readings)) == len(readings):
        telling = [r for r in readings if r.free + r.margin >= FITS and r.stripes > FEW_EDGES]
        by_far = [r for r in telling if r.known >= CLEARLY_KNOWN and r.margin >= BY_FAR]
        if len(by_far) > 1 and unrecognised(bar.reading) <= HALF:
            return True
        enough |= bool(by_far) or any(r.likeliest >= PLAINLY_ONE for r in telling)
    return enough and _worth(bar) >= np.clip(MUST_TELL * lacking, LEAST_TELLING, MOST_TELLING) * _area(bar.found)


def _lies_by_itself(bar: ReadBar, scales: Scales) -> bool:
    """Whether the rows are all that stands out there from an even ground, as tall as ribbons are, with nothing written
    on half of them; and either it may well be a bar by its edges and is not all of one colour, or one ribbon looks like
    one pattern and no other and half is recognised, or many stripes run across it from edge to edge."""
    rows, readings = bar.reading.rows, _readings(bar)
    likely = bar.found.confidence >= MAY_BE
    heights = [_height_mm(row, len(own)) for row, own in zip(bar.found.rows, rows, strict=True)]
    if not all(LOWEST <= height <= (FORESHORTENED if likely else TALLEST) for height in heights):
        return False
    covered = np.array([reading.covered for reading in readings])
    if np.mean(covered <= WRITTEN) < HALF or covered.mean() > 2 * WRITTEN:
        return False
    least = min(reading.free for reading in readings)
    clear = [r for r in readings if _tells(r) and r.likeliest >= CLEARLY_KNOWN and r.pixels_per_stripe >= FINE]
    known = bool(clear) and unrecognised(bar.reading) <= HALF
    many = least < MANY_STRIPES and covered.mean() <= UNMARKED
    if not known and not many and not (likely and least < STRIPED):
        return False
    outline = silhouette(scales, bar.found)
    only_many = not known and not likely
    return outline is not None and outline.share() <= (EXACTLY if only_many else BY_ITSELF)


def _is_shared(reading: Reading) -> bool:
    """Whether its likeliest look is several awards': they may stand side by side."""
    return reading.likeliest > 1.5 * reading.candidates[0].probability


def _different(readings: list[Reading]) -> set[str]:
    return {reading.candidates[0].award for reading in readings}


def _edges(readings: list[Reading]) -> int:
    """Edges between stripes, each award's ribbon once."""
    return sum({r.candidates[0].award: min(r.stripes - 1, MOST_EDGES) for r in readings}.values())


def _reads_well(bar: ReadBar) -> bool:
    return unrecognised(bar.reading) <= READS_WELL


def _worth(bar: ReadBar) -> float:
    """Area, in pixels of the photo, of the ribbons of several stripes that are recognised, those not recognised
    and all in rows too low or too tall for ribbons, or of other ribbons' width than most, counting against it and plain
    ones not at all."""
    worth = 0.0
    each = np.array([_length(row) / len(own) for row, own in zip(bar.found.rows, bar.reading.rows, strict=True)])
    usual = float(np.median(np.repeat(each, list(map(len, bar.reading.rows)))))
    for row, readings, width in zip(bar.found.rows, bar.reading.rows, each, strict=True):
        fits = TALL[0] < _height_mm(row, len(readings)) < TALL[1] and abs(np.log(width / usual)) < OTHER_WIDTH
        low, high = readings[0].span[0], readings[-1].span[1]
        kinds = [
            (reading.span[1] - reading.span[0])
            * (float(_tells(reading)) if fits and recognised(reading) else UNKNOWN_WORTH)
            for reading in readings
        ]
        worth += _row_area(row) * sum(kinds) / max(high - low, 1e-6)
    return worth


def _length(row: Row) -> float:
    corners = np.asarray(row.corners, float)
    return float(np.linalg.norm(corners[1] + corners[2] - corners[0] - corners[3])) / 2


def _height_mm(row: Row, ribbons: int) -> float:
    """How tall a row is if its ribbons are of the usual width."""
    corners = np.asarray(row.corners, float)
    top, right, bottom, left = (np.linalg.norm(corners[(k + 1) % 4] - corners[k]) for k in range(4))
    return float((left + right) / max(top + bottom, 1e-6) * USUAL_WIDTH * ribbons)


def _tells(reading: Reading) -> bool:
    return recognised(reading) and reading.stripes > 1


def _count(bar: ReadBar) -> int:
    return sum(map(len, bar.reading.rows))


def _readings(bar: ReadBar) -> list[Reading]:
    return [reading for row in bar.reading.rows for reading in row]
