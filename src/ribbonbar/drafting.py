"""``ribbonbar spec from-photo``: the draft of an award's ribbon, measured on a photograph."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ribbonbar.audit import Catalogue, find, load_catalogue, read_bars
from ribbonbar.errors import OptionError, PhotoError
from ribbonbar.options import check_corners, parse_corners
from ribbonbar.photo.finding import Search
from ribbonbar.photo.model import Picture
from ribbonbar.photo.opening import open_photo
from ribbonbar.reading.confidence import CALIBRATION, SURE
from ribbonbar.reading.decode import WIDTH_TOLERANCE, DecodedRow, Shone, relit, shine_on
from ribbonbar.reading.evidence import coarse_scatter, scatter_cost
from ribbonbar.reading.light import (
    COMMON_GAIN,
    COMMON_OFFSET,
    CROSS_GAIN,
    NEUTRAL,
    OWN_GAIN,
    OWN_OFFSET,
    TONE_NOISE,
    Light,
)
from ribbonbar.reading.model import BarReading, Reading
from ribbonbar.reading.observe import SAMPLES_PER_MM, TOE, Segments, cut
from ribbonbar.reading.read import ReadRow, read_rows
from ribbonbar.reading.segment import Division
from ribbonbar.reading.stripes import SAME_DYE, Measured, measure
from ribbonbar.reading.templates import COLUMNS
from ribbonbar.reading.weigh import CELL_NOISE
from ribbonbar.report.model import Corners
from ribbonbar.report.text import listed, safe_text
from ribbonbar.spec.colour import ciede2000, lab_from_linear

OUTER_EDGE_MM = 0.5
"""Standard deviation of where a ribbon's own two edges are found: the four ribbons of a sample photograph, 32 mm each,
came out 30.9 to 32.7 mm wide."""
SLIVER_MM = 1.0
"""A stripe at one edge alone that is narrower than twice the doubt about the ribbon's edge is not believed."""
INNER_MM = 0.15
"""What an inner stripe's width may be off besides: cloth is not woven to the tenth."""
SIZES_MM = (3.0, 60.0)
"""Heights that a ribbon on a bar may have (the specification file allows the same)."""
UNEXPLAINED = 0.02
"""Cube-root light left unexplained (root mean square) from which the stripes are not the whole of the ribbon."""
WHITEST = 99.5
"""L* that no cloth reaches (from memory: bleached cotton is near 95)."""
TURNS = 2
"""Rounds of light and brightness of the known neighbours."""


@dataclass(frozen=True)
class Dye:
    """A measured colour, CIE L*a*b* (D65) with the standard deviation of each value."""

    lab: np.ndarray
    spread: np.ndarray


@dataclass(frozen=True)
class DraftedRibbon:
    """One ribbon measured. ``stripes`` are (dye at the left, dye at the right, width in mm), dyes by number; ``notes``
    say what to know about the measuring, a sentence each."""

    position: str
    width_mm: float
    dyes: tuple[Dye, ...]
    stripes: tuple[tuple[int, int, float], ...]
    edge_spread_mm: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Drafts:
    """What was measured on one photograph, and the positions of which no draft can be made with the reason why."""

    photo: str
    ribbons: tuple[DraftedRibbon, ...]
    refused: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class _Bar:
    """One bar as read: its rows with what was seen of them, and the names of its positions begin with ``prefix``."""

    prefix: str
    shone: Shone
    rows: list[ReadRow]
    reading: BarReading


def draft_from_file(
    path: Path,
    specs: Sequence[Path] = (),
    corners: str = "",
    positions: Sequence[str] = (),
    whole_bar: bool = False,
    height_mm: float = 10.0,
) -> Drafts:
    """``draft`` of a photograph file, with the specification files named or those that ship with the package.

    Raises PhotoError, SpecError and OptionError like ``draft``; OptionError too when no ribbon at all can be drafted.
    """
    drafts = draft(
        open_photo(path),
        load_catalogue(specs),
        parse_corners(corners) if corners else None,
        positions,
        whole_bar,
        height_mm,
    )
    if not drafts.ribbons:
        position, why = drafts.refused[0]
        raise OptionError(f"{drafts.photo}, position {position}: {why}")
    return drafts


def draft(
    picture: Picture,
    catalogue: Catalogue,
    corners: Corners | None = None,
    positions: Sequence[str] = (),
    whole_bar: bool = False,
    height_mm: float = 10.0,
) -> Drafts:
    """Measure the ribbons at ``positions``, else those that the catalogue does not know, else (``whole_bar``) all.

    The light is the one that makes the identified ribbons of the same bar look as specified; where there is none,
    ordinary light. ``height_mm`` is how tall the ribbons stand; the widths of identified neighbours go before it.
    Raises PhotoError when there is no bar, OptionError for a position that does not exist or when nothing is unknown.
    """
    if positions and whole_bar:
        raise OptionError("--all and --position: give one of them")
    if not (math.isfinite(height_mm) and SIZES_MM[0] <= height_mm <= SIZES_MM[1]):
        low, high = SIZES_MM
        raise OptionError(f"--height-mm {height_mm:g}: give the ribbon's height on the bar, {low:g} to {high:g} mm")
    if corners:
        check_corners(corners, picture.width, picture.height)
    bars = _read(picture, catalogue, corners)
    places = {
        f"{bar.prefix}{r}.{p}": (bar, r - 1, p - 1)
        for bar in bars
        for r, row in enumerate(bar.reading.rows, 1)
        for p, _ in enumerate(row, 1)
    }
    for position in positions:
        if position not in places:
            raise OptionError(f"--position {safe_text(position, 20)}: not on this picture, which has {_span(places)}")
    wanted = list(dict.fromkeys(positions)) or [
        name for name, (bar, r, p) in places.items() if whole_bar or bar.reading.rows[r][p].status == "unidentified"
    ]
    if not wanted:
        raise OptionError(f"{picture.name}: every ribbon is known; say which to draft with --position, or --all")
    ribbons, refused = [], []
    for name in wanted:
        bar, r, p = places[name]
        why = _no_stripes(bar, r, p)
        if why:
            refused.append((name, why))
        else:
            ribbons.append(_measured(name, bar, r, p, height_mm))
    return Drafts(picture.name, tuple(ribbons), tuple(refused))


def _read(picture: Picture, catalogue: Catalogue, corners: Corners | None) -> list[_Bar]:
    search = Search(picture)
    bars = read_bars(search, find(search, corners), catalogue, by_hand=corners is not None)
    if not bars:
        raise PhotoError(
            f"{picture.name}: no ribbon bar with a known ribbon was found; "
            'say where the bar is with --corners "x,y x,y x,y x,y" (clockwise from top left)'
        )
    return [
        _Bar(f"{number}/" if number > 1 else "", *read_rows(bar.strips, catalogue.bank), bar.reading)
        for number, bar in enumerate(bars, 1)
    ]


def _span(places: dict) -> str:
    names = list(places)
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"


def _segments(bar: _Bar, r: int) -> Segments:
    edges = bar.rows[r].decoded.division.edges
    return cut(bar.rows[r].view, edges[:-1], edges[1:])


def _no_stripes(bar: _Bar, r: int, p: int) -> str:
    """Why the ribbon cannot be drafted as upright stripes; empty when it can."""
    segments = _segments(bar, r).pick([p])
    uneven = float(scatter_cost(coarse_scatter(segments.cells - segments.profile[:, None]), CELL_NOISE)[0])
    if uneven > CALIBRATION.uneven_at:
        return (
            "its pattern changes from top to bottom (diagonal stripes, bands, or an emblem over most of it), "
            "and a draft can only hold upright stripes; write it by hand"
        )
    return ""


def _measured(name: str, bar: _Bar, r: int, p: int, height_mm: float) -> DraftedRibbon:
    row = bar.rows[r]
    segments = _segments(bar, r)
    found, slivers = _own(measure(segments.profile[p], segments.weight[p].copy(), bar.shone.loom.blur))
    known = _known(bar, skip=(r, p))
    light, doubt = _light(bar, known)
    span = float(np.ptp(found.edges)) / COLUMNS
    width, notes = _width(bar, known, float(np.diff(row.decoded.division.edges)[p]) * span, height_mm)
    notes += slivers
    if known:
        names = [reading.candidates[0].award for _, _, reading in known]
        notes.append(f"light taken out with {listed(names) if len(names) < 4 else f'{len(names)} known ribbons'}")
    else:
        notes.append("no ribbon beside it is known: ordinary light is assumed, so that the colours are a guess")
    if (segments.cloth[p].mean(0) < 0.5).sum() > COLUMNS / 4:
        notes.append("an emblem hides part of it")
    if found.left > UNEXPLAINED:
        notes.append("these stripes do not explain all that is seen: compare with the picture")
    dyes, ends = _dyes(found, light, doubt)
    if any(dye.lab[0] >= WHITEST for dye in dyes):
        notes.append("a colour is brighter than cloth can be in this light: a ribbon beside it may be misread")
    edges, symmetrical = _settled(found, ends, width)
    if symmetrical:
        notes.append("its halves agree within the measuring, so that it is given as symmetrical")
    widths = np.round(np.diff(edges), 1)
    inner = float(found.edges_sd.max()) * width / float(np.ptp(found.edges))
    return DraftedRibbon(
        name,
        width,
        tuple(dyes),
        tuple((a, b, float(w)) for (a, b), w in zip(ends, widths, strict=True)),
        float(np.hypot(inner, OUTER_EDGE_MM)),
        tuple(notes),
    )


def _own(found: Measured) -> tuple[Measured, list[str]]:
    """The stripes without a sliver at one edge that the other does not have: a neighbour's, or the gap to it."""
    widths, notes = np.diff(found.edges), []
    first, last = (bool(width < SLIVER_MM * SAMPLES_PER_MM) and len(widths) > 1 for width in (widths[0], widths[-1]))
    if first != last:
        kept = slice(1, None) if first else slice(None, -1)
        edges = found.edges[kept], found.edges_sd[kept]
        found = Measured(*edges, found.start[kept], found.end[kept], found.colours_sd[kept], found.left)
        notes = [f"a sliver at its {'left' if first else 'right'} edge is taken for its neighbour's"]
    return found, notes


Known = list[tuple[int, int, Reading]]


def _known(bar: _Bar, skip: tuple[int, int]) -> Known:
    """The ribbons of the bar whose look is known for certain (whichever award it stands for): row, place, reading."""
    return [
        (r, p, reading)
        for r, row in enumerate(bar.reading.rows)
        for p, reading in enumerate(row)
        if (r, p) != skip and _look(bar, reading)[1] >= SURE
    ]


def _look(bar: _Bar, reading: Reading) -> tuple[int, float]:
    """The pattern of the likeliest candidate, and how likely it is that the ribbon has it."""
    best = (reading.candidates[0].award, reading.candidates[0].ribbon)
    patterns = bar.shone.loom.bank.patterns
    number = next(n for n, pattern in enumerate(patterns) if best in pattern.names)
    names = patterns[number].names
    return number, sum(c.probability for c in reading.candidates if (c.award, c.ribbon) in names)


def _likeliest(bar: _Bar, r: int, p: int, reading: Reading) -> int:
    """The template of an identified ribbon that fits best."""
    own = bar.shone.loom.pattern == _look(bar, reading)[0]
    return int(np.where(own, bar.rows[r].decoded.evidence[p], -np.inf).argmax())


def _light(bar: _Bar, known: Known) -> tuple[Light, np.ndarray]:
    """The light under which the known ribbons look as specified, and the covariance (12, 12) of its parameters.

    The parameters are those of ``Light``, row by row ``[gain row, offset]``; every dye of a known ribbon is one
    observation, off by what dye lots differ.
    """
    loom, shone = bar.shone.loom, shine_on(bar.shone.loom, NEUTRAL)
    precision = np.linalg.inv(_prior_covariance())
    alone, views = [], []
    for r, p, reading in known:
        division = bar.rows[r].decoded.division
        template = _likeliest(bar, r, p, reading)
        evidence = np.full((1, len(loom.pattern)), -np.inf)
        evidence[0, template] = bar.rows[r].decoded.evidence[p, template]
        alone.append(DecodedRow(Division(division.edges[p : p + 2], division.classes[p : p + 1], 0.0), evidence, ()))
        views.append(bar.rows[r].view)
        family, at = (
            (loom.bank.vertical, template)
            if template < len(loom.vertical)
            else (loom.bank.slanted, template - len(loom.vertical))
        )
        dyes = family.dyes[at][family.cover[at].reshape(-1, family.cover.shape[-1]).max(0) > 0.5]
        for dye in np.cbrt(np.maximum(dyes, 0.0) + TOE):
            design = np.kron(np.eye(3), np.append(dye, 1.0))
            precision += design.T @ design / TONE_NOISE**2
    for _ in range(TURNS if known else 0):
        shone = relit(alone, views, shone)
    return shone.light, np.linalg.inv(precision)


def _prior_covariance() -> np.ndarray:
    """How far the light of a photograph is from ordinary light, before anything is known: covariance (12, 12)."""
    gain, offset = np.zeros((3, 4)), np.zeros((3, 4))
    gain[np.arange(3), np.arange(3)] = COMMON_GAIN
    offset[:, 3] = COMMON_OFFSET
    own = np.full((3, 4), CROSS_GAIN)
    own[np.arange(3), np.arange(3)] = OWN_GAIN
    own[:, 3] = OWN_OFFSET
    return np.outer(gain, gain) + np.outer(offset, offset) + np.diag(own.ravel() ** 2)


def _width(bar: _Bar, known: Known, columns: float, height_mm: float) -> tuple[float, list[str]]:
    """The ribbon's width in mm, to a tenth, and how it was come by."""
    patterns = bar.shone.loom.bank.patterns
    sizes = [patterns[_look(bar, reading)[0]].width_mm for _, _, reading in known]
    seen = [float(np.diff(bar.rows[r].decoded.division.edges)[p]) for r, p, _ in known]
    if not known:
        width = columns / SAMPLES_PER_MM * height_mm / 10.0
        return round(width, 1), [f"width measured on a height of {height_mm:g} mm"]
    measured = columns * float(np.median(np.array(sizes) / np.array(seen)))
    nearest = min(sizes, key=lambda size: abs(np.log(size / measured)))
    if abs(np.log(nearest / measured)) < 3 * WIDTH_TOLERANCE:
        return round(nearest, 1), [f"width measured as {measured:.1f} mm, taken as its neighbours' {nearest:g} mm"]
    return round(measured, 1), ["width measured against its neighbours', to a millimetre or two"]


def _dyes(found: Measured, light: Light, doubt: np.ndarray) -> tuple[list[Dye], list[tuple[int, int]]]:
    """The dyes of the stripes and, for each stripe, the numbers of those at its left and right.

    Colours nearer than SAME_DYE to the mean of a dye, nearest first, are that dye: a ribbon is woven of few.
    """
    shaded = found.shaded
    seen = np.concatenate([found.start, found.end[shaded]])
    weight = np.concatenate([np.diff(found.edges), np.diff(found.edges)[shaded]])
    error = np.concatenate([found.colours_sd, found.colours_sd[shaded]])
    groups = [[i] for i in range(len(seen))]

    def mean(group: list[int]) -> np.ndarray:
        return np.average(seen[group], axis=0, weights=weight[group])

    while len(groups) > 1:
        labs = _lab(np.array([mean(group) for group in groups]), light)
        apart = ciede2000(labs[:, None], labs[None]) + np.where(np.eye(len(groups)), np.inf, 0.0)
        a, b = sorted(divmod(int(apart.argmin()), len(groups)))
        if apart[a, b] >= SAME_DYE:
            break
        groups[a] += groups.pop(b)
    groups.sort(key=min)
    of = {i: number for number, group in enumerate(groups) for i in group}
    ends, further = [], iter(range(len(found.start), len(seen)))
    for k, shades in enumerate(shaded):
        ends.append((of[k], of[next(further)] if shades else of[k]))
    return [_dye(mean(group), error[group].min(), light, doubt) for group in groups], ends


def _dye(seen: np.ndarray, error: float, light: Light, doubt: np.ndarray) -> Dye:
    """A colour as seen, with the light taken out; the doubt of the light and of the measuring carried over."""
    inverse = np.linalg.inv(light.gain.astype(float))
    woven = inverse @ (seen - light.offset)  # not held within what cloth can be: the doubt does not stop there
    design = np.kron(np.eye(3), np.append(woven, 1.0))
    covariance = inverse @ (design @ doubt @ design.T + np.eye(3) * error**2) @ inverse.T
    step = 1e-3
    here = lab_from_linear(woven**3 - TOE)
    slope = np.stack([(lab_from_linear((woven + step * one) ** 3 - TOE) - here) / step for one in np.eye(3)], axis=1)
    return Dye(_lab(seen, light), np.sqrt(np.diag(slope @ covariance @ slope.T)))


def _lab(seen: np.ndarray, light: Light) -> np.ndarray:
    return lab_from_linear(np.maximum(light.take_out(seen) ** 3 - TOE, 0.0))


def _settled(found: Measured, ends: list[tuple[int, int]], width: float) -> tuple[np.ndarray, bool]:
    """The stripes' edges in mm, to a tenth; made symmetrical where both halves agree within the measuring."""
    scale = width / float(np.ptp(found.edges))
    edges, doubt = (found.edges - found.edges[0]) * scale, found.edges_sd * scale
    doubt[[0, -1]] = OUTER_EDGE_MM
    widths, turned = np.diff(edges), [(b, a) for a, b in reversed(ends)]
    error = np.sqrt(doubt[:-1] ** 2 + doubt[1:] ** 2 + INNER_MM**2)
    unlike = np.abs(widths - widths[::-1]) > 2.0 * np.hypot(error, error[::-1])
    if len(ends) < 2 or ends != turned or unlike.any():
        return np.round(edges, 1), False
    mirrored = width - edges[::-1]
    half = np.round(0.5 * (edges + mirrored), 1)[: (len(edges) + 1) // 2]
    whole = np.concatenate([half, np.round(width - half[: len(edges) // 2][::-1], 1)])
    return whole, True
