"""Reading one bar: from its flat strips to the ribbons that the picture still allows at each position."""

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from ribbonbar.photo.model import Strip
from ribbonbar.reading.confidence import MOST_CANDIDATES, WORTH_SAYING, Look, looks, status_of
from ribbonbar.reading.decode import (
    DecodedRow,
    Given,
    Loom,
    Shone,
    cut_anew,
    holding_to,
    relit,
    seen_under,
    set_up,
    settled,
    shine_on,
)
from ribbonbar.reading.emblems import emblems_of
from ribbonbar.reading.evidence import coarse_scatter, scatter_cost
from ribbonbar.reading.free import free_evidence
from ribbonbar.reading.model import BarReading, Reading, RibbonCandidate
from ribbonbar.reading.observe import SAMPLES_PER_MM, TOE, RowView, Segments, cut, fineness, softness, view
from ribbonbar.reading.refine import refine
from ribbonbar.reading.regain import WELL, afresh, bar_scale, is_lost, regain
from ribbonbar.reading.second_light import second_light
from ribbonbar.reading.taper import MORE_TURNS, decode_evened
from ribbonbar.reading.templates import Bank, Pattern
from ribbonbar.reading.weigh import CELL_NOISE, Weighed, any_dye, of_one_colour, weigh
from ribbonbar.spec.colour import lab_from_linear

NOMINAL_HEIGHT, HEIGHTS, OFF_HEIGHT = 10.0, (6.0, 14.0), 0.05
"""Millimetres that rows are taken as tall, and may be seen (common practice, no source: they are cut 8 to 13 mm tall,
and the next row may cover some of it); and the logarithm from which diagonals must be drawn anew."""
SEEN_TALLER = np.array([1.0, 0.87, 0.75, 1.15])
"""What a ribbon's height beside its width may be against what is seen: less where a camera looks along the bar."""
MAY_SLANT = -350.0
"""Quick log evidence below which no slanted ribbon, drawn too tall or too low, is the right one: where one was, it had
-343 at worst (126 on simulated pictures)."""
SEAM_COST = 2.8
"""Log evidence that the freedom for shaded seams costs a known ribbon without any (2.0 to 3.6 on clean ribbons); a
stranger's stripes pay as much."""
NEAR_COST = 2.0
"""Log odds against a stranger that is laid out just like a known ribbon."""
SLANTED_FITS = -72.0
"""Log evidence from which what stands out from the cloth of a slanted ribbon is its own pattern: letters reach less."""
SLANTED_FREE = -110.0
"""Log evidence that a slanted ribbon in no specification could be given; known ones, emblems included, reach more."""

SLANTS = 6.0
"""Log evidence by which slanting stripes must explain a ribbon better than one colour does: 100 and more where there
are any, and 3 at most on name plates."""


@dataclass(frozen=True)
class ReadRow:
    """One row between flat strip and readings: what was seen of it and how it was divided."""

    view: RowView
    decoded: DecodedRow


def read_bar(strips: Sequence[Strip], bank: Bank, given: Given = MappingProxyType({})) -> BarReading:
    """Read the rows of one bar (top first) against a catalogue; ``given`` are ribbons that the user has named, which
    help with the light and the widths of the others.

    Rows that share a bar share its light and its scale. The answer depends on nothing but the strips and the bank.
    """
    shone, rows = read_rows(strips, bank, given)
    return BarReading(tuple(_read_row(row, shone) for row in rows), shone.light)


def read_rows(strips: Sequence[Strip], bank: Bank, given: Given = MappingProxyType({})) -> tuple[Shone, list[ReadRow]]:
    """The templates as the photograph blurs and lights them, and the bar's rows divided into ribbons."""
    pixels_per_mm = fineness(strips)
    views = [view(strip, pixels_per_mm) for strip in strips]
    soft = softness(views)
    views, shone, rows = decode_evened(views, set_up(bank, pixels_per_mm, soft), given)
    height_mm = _slanting_height(rows, views, shone)
    if abs(np.log(height_mm / NOMINAL_HEIGHT)) > OFF_HEIGHT:
        shone = shine_on(cut_anew(shone.loom, height_mm), shone.light)
        rows = [seen_under(shone, row, one) for row, one in zip(rows, views, strict=True)]
        shone, rows = settled(rows, views, shone, given, MORE_TURNS)
    loom = shone.loom
    rows = [refine(row, one, shone) for row, one in zip(holding_to(given, rows, loom), views, strict=True)]
    shone, rows = second_light(holding_to(given, rows, loom), views, shone, given)
    if not given and is_lost(rows):
        shone, rows = afresh(rows, views, loom)
    rows = holding_to(given, regain(rows, views, shone), loom)
    shone = relit(rows, views, shone)
    rows = holding_to(given, [refine(row, one, shone) for row, one in zip(rows, views, strict=True)], loom)
    return shone, [ReadRow(one, row) for one, row in zip(views, rows, strict=True)]


def _slanting_height(rows: Sequence[DecodedRow], views: Sequence[RowView], shone: Shone) -> float:
    """How tall, in millimetres, ribbons must be drawn for those that may be slanted ones to be recognised best; as
    nominal where there are none."""
    chosen = [_may_slant(row, shone.loom) for row in rows]
    if not any(one.any() for one in chosen):
        return NOMINAL_HEIGHT
    seen_mm = NOMINAL_HEIGHT * SAMPLES_PER_MM / bar_scale(rows, shone.loom)

    def explained(height_mm: float) -> float:
        cut = shine_on(cut_anew(shone.loom, height_mm), shone.light)
        again = (seen_under(cut, row, one).evidence.max(1) for row, one in zip(rows, views, strict=True))
        return float(sum(best[one].sum() for best, one in zip(again, chosen, strict=True)))

    return max(np.clip(seen_mm * SEEN_TALLER, *HEIGHTS).tolist(), key=explained)


def _may_slant(row: DecodedRow, loom: Loom) -> np.ndarray:
    """Which ribbons (n,) that are not well recognised may be slanted ones."""
    best = row.evidence.max(1)
    slanted = row.evidence[:, len(loom.vertical) :].max(1, initial=-np.inf)
    return (best <= WELL) & (slanted > MAY_SLANT)


@dataclass(frozen=True)
class Heard:
    """What is held for and against the templates of one ribbon, before it is made a probability: `looks` says how."""

    weighed: list[Weighed]
    free: float
    uneven: float


def hear(read: ReadRow, segments: Segments, shone: Shone) -> list[Heard]:
    """The evidence on each ribbon of a row; ``segments`` are its ribbons cut out."""
    loom, light = shone.loom, shone.light
    scatter = scatter_cost(coarse_scatter(segments.cells - segments.profile[:, None]), CELL_NOISE)
    frees = free_evidence(segments.profile, CELL_NOISE, loom.blur) - scatter - SEAM_COST
    heard = []
    for number, quick in enumerate(read.decoded.evidence):
        weighed = weigh(segments, number, quick, loom, light)
        top = weighed[0].template
        free, uneven = float(frees[number]), float(scatter[number])
        if top >= len(loom.vertical):  # slanted patterns scatter as they should
            uneven, free = 0.0, max(free, SLANTED_FREE, of_one_colour(segments, number, top, loom, light) + SLANTS)
        free = max(free, any_dye(segments, number, top, loom, light) - NEAR_COST)
        heard.append(Heard(weighed, free, uneven))
    return heard


def _read_row(read: ReadRow, shone: Shone) -> tuple[Reading, ...]:
    division, view, loom, light = read.decoded.division, read.view, shone.loom, shone.light
    segments = cut(view, division.edges[:-1], division.edges[1:])
    patterns = loom.bank.patterns
    spans = view.on_strip(np.stack([division.edges[:-1], division.edges[1:]], axis=1))
    readings = []
    for number, heard in enumerate(hear(read, segments, shone)):
        found = looks(heard.weighed, heard.free, heard.uneven, loom.pattern, loom.reversed, loom.bank.weight)
        best = patterns[found[0].pattern]
        top = heard.weighed[0].template
        status = status_of(found, len({award for award, _ in best.names}))
        slanted = top >= len(loom.vertical) and found[0].log_evidence > SLANTED_FITS and status != "unidentified"
        readings.append(
            Reading(
                span=(float(spans[number, 0]), float(spans[number, 1])),
                status=status,
                candidates=_candidates(found, patterns),
                emblems=emblems_of(segments, number, top, loom, light),
                seen=lab_from_linear(np.maximum(light.take_out(segments.profile[number]) ** 3 - TOE, 0.0)),
                pixels_per_stripe=_narrowest(best) * view.photo_pixels_per_mm,
                margin=found[0].log_evidence - heard.free,
                free=heard.free,
                stripes=_stripes(best),
                covered=0.0 if slanted else segments.covered(number),
            )
        )
    return tuple(readings)


def _candidates(found: list[Look], patterns: tuple[Pattern, ...]) -> tuple[RibbonCandidate, ...]:
    """Every award of every likely look; awards with the same ribbon share its probability evenly."""
    candidates = []
    for at, look in enumerate(found[:MOST_CANDIDATES]):
        if at and look.probability < WORTH_SAYING:
            break
        names = patterns[look.pattern].names
        for award, ribbon in names:
            candidates.append(RibbonCandidate(award, ribbon, look.reversed, look.probability / len(names)))
    return tuple(sorted(candidates, key=lambda c: -c.probability))


def _stripes(pattern: Pattern) -> int:
    """How many stripes are seen along the ribbon; a diagonal's come again as often as they cross it."""
    ribbon = pattern.ribbon
    if ribbon.shape != "diagonal":
        return len(ribbon.stripes)
    period = sum(stripe.width for stripe in ribbon.stripes) / np.sin(np.deg2rad(ribbon.angle % 180.0))
    return int(len(ribbon.stripes) * max(pattern.width_mm / period, 1.0))


def _narrowest(pattern: Pattern) -> float:
    """Width in mm of the narrowest stripe."""
    widths = np.array([s.width for s in pattern.ribbon.stripes])
    if pattern.ribbon.shape == "stripes":
        return float(widths.min() / widths.sum() * pattern.width_mm)
    return float(widths.min()) if pattern.ribbon.shape == "diagonal" else pattern.ribbon.height_mm / len(widths)
