"""Whether what was read is a ribbon bar: what finding is not sure of, the reading decides."""

import numpy as np

from ribbonbar.photo.scales import Scales
from ribbonbar.photo.silhouette import silhouette
from ribbonbar.reading.model import Reading
from ribbonbar.rows import FITS, ReadBar, unrecognised
from ribbonbar.worth import area, height_mm, readings_of, tells, worth

SURE = 0.75
"""Confidence of a find from which one ribbon that can be named is enough."""
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
WRITTEN, BY_ITSELF, MOUNTED = 0.15, 0.16, 0.25
"""Share of a ribbon's width on which something may stand out from the cloth, half of it on name plates, emblems aside;
and share by which its silhouette may differ from its rows: more where several ribbons are all known, and only their
white or black mount shows about them."""
MANY_STRIPES, UNMARKED, EXACTLY = -60.0, 0.05, 0.08
"""Free log evidence below which there are four stripes or more; share of its width where anything stands out from them;
and share by which the silhouette may differ, for a place to be a bar for its stripes alone."""
ALL_WRITTEN = 0.42
"""That share from which nothing is a bar: emblems leave more of it, 0.39 at most on 92 rendered bars and 0.34 on 99 of
100 simulated ones."""
MAY_BE, STRIPED, HALF = 0.27, -25.0, 0.5
"""Confidence of such a find from which nothing of it need be recognised, if the free log evidence of one ribbon is
below the second: it is not all of one colour; and share of the ribbons that need not be where one is clear. Of 35 bars
of one or two ribbons missed otherwise 20 have such a place, of 300 simulated pictures without a bar three."""
BESIDE = 0.015
"""Confidence from which a place beside a bar is worth reading."""
MUST_TELL, LEAST_TELLING, MOST_TELLING = 1.3, 0.1, 0.8
"""Share of an unsure find's area that must be worth something: so much for what its confidence lacks, at least and at
most so much. Real bars found with a confidence of 0.1 are read whole."""


def is_a_bar(bar: ReadBar, scales: Scales) -> bool:
    """True when what was read is likelier a ribbon bar than a stray pattern, a name plate or a ruler's marks say.

    A sure find needs a ribbon of three stripes, or two of two, that look like one pattern and no other; the less sure,
    the more of it must be recognised: several ribbons, or one so surely that it is nothing else; or it must lie there
    by itself as a bar does. What repeats itself is none, nor is what is written on all over.
    """
    readings = list(filter(tells, readings_of(bar)))
    named = [reading for reading in readings if reading.status == "identified"]
    if len(named) - len(_different(named)) > REPEATS:
        return False
    own = [reading for reading in readings if not _is_shared(reading)]
    if len(own) - len(_different(own)) > max(REPEATS, REPEATED * len(own)):
        return False
    if np.mean([reading.covered for reading in readings_of(bar)]) > ALL_WRITTEN:
        return False
    return _is_recognised(bar, readings) or _lies_by_itself(bar, scales)


def is_sure(bar: ReadBar) -> bool:
    """Whether a find needs no other to be compared with; where none is, the best alone is believed."""
    return bar.found.confidence > SURE


def is_another(bar: ReadBar) -> bool:
    """Whether what lies beside a sure bar is a second one: name plates are worn there."""
    clear = [r for r in readings_of(bar) if tells(r) and r.likeliest >= ONE_LOOK]
    if len(_different(clear)) >= TELLING and worth(bar) >= MOST_TELLING * area(bar.found):
        return True
    surely = [r for r in clear if r.stripes > FEW_EDGES and r.likeliest >= PLAINLY_ONE and r.free + r.margin >= FITS]
    return len(_different(surely)) >= LIKELY_TELLING and unrecognised(bar.reading) <= HALF


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
    return enough and worth(bar) >= np.clip(MUST_TELL * lacking, LEAST_TELLING, MOST_TELLING) * area(bar.found)


def _lies_by_itself(bar: ReadBar, scales: Scales) -> bool:
    """Whether the rows are all that stands out there from an even ground, as tall as ribbons are, with nothing written
    on half of them; and either it may well be a bar by its edges and is not all of one colour, or one ribbon looks like
    one pattern and no other and half is recognised, or many stripes run across it from edge to edge."""
    rows, readings = bar.reading.rows, readings_of(bar)
    likely = bar.found.confidence >= MAY_BE
    heights = [height_mm(row, len(own)) for row, own in zip(bar.found.rows, rows, strict=True)]
    if not all(LOWEST <= height <= (FORESHORTENED if likely else TALLEST) for height in heights):
        return False
    covered = np.array([reading.covered for reading in readings])
    if np.mean(covered <= WRITTEN) < HALF or covered.mean() > 2 * WRITTEN:
        return False
    least = min(reading.free for reading in readings)
    clear = [r for r in readings if tells(r) and r.likeliest >= CLEARLY_KNOWN and r.pixels_per_stripe >= FINE]
    known = bool(clear) and unrecognised(bar.reading) <= HALF
    many = least < MANY_STRIPES and covered.mean() <= UNMARKED
    if not known and not many and not (likely and least < STRIPED):
        return False
    outline = silhouette(scales, bar.found)
    several = not unrecognised(bar.reading) and len(_different(list(filter(tells, readings)))) > 1
    most = EXACTLY if not known and not likely else MOUNTED if several else BY_ITSELF
    return outline is not None and outline.share() <= most


def _is_shared(reading: Reading) -> bool:
    """Whether its likeliest look is several awards': they may stand side by side."""
    return reading.likeliest > 1.5 * reading.candidates[0].probability


def _different(readings: list[Reading]) -> set[str]:
    return {reading.candidates[0].award for reading in readings}


def _edges(readings: list[Reading]) -> int:
    """Edges between stripes, each award's ribbon once."""
    return sum({r.candidates[0].award: min(r.stripes - 1, MOST_EDGES) for r in readings}.values())
