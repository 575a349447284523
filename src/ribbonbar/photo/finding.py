"""Finding the bars on a picture."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, partial

import cv2
import numpy as np

from ribbonbar.photo.edges import refine
from ribbonbar.photo.ends import settle_ends
from ribbonbar.photo.ground import on_plain_ground
from ribbonbar.photo.judging import confidence, evidence
from ribbonbar.photo.model import FoundBar, Picture, Row
from ribbonbar.photo.rectifying import Rectified, project, square_up, to_features, view
from ribbonbar.photo.regions import Region, find_regions
from ribbonbar.photo.rows import Bands, RowFit, fit_rows, lean
from ribbonbar.photo.scales import Scales

VIEW_WIDTH = 400
LEAST_CONFIDENCE = 0.5
CLEAR, FAINT = 3.0, 1.2  # score of a fit worth a closer look: at first, and where nothing else is found
SURE = 0.75  # what a bar needs that nothing near is looked at for any more
AS_DENSE = 0.4  # share of the densest region's that a second bar's has: 0.48 at least on simulated pictures
MOST_VIEWS = 3
BESIDE_BAR = 3  # pixels of a view about a bar that show its edge and its shadow
LEAST_HUES = 14.0
LEAST_TALL = 10.0  # pixels of the picture: in a row seen smaller, at less than a pixel a millimetre, anything is read
MOST_FORESHORTENED = 1.8  # ratio of a row's opposite sides: a bar that fills the picture, seen at 40 degrees, has 1.6
RISING = 0.012  # slope of a row in a view: over the five row heights beyond an end, a pixel or two
ROW_PIXELS = 24.0  # height of a row in the closer view


@dataclass(frozen=True)
class Candidate:
    """A place looked at: the rows fitted there (quads (4, 2), top first), and how much they look like a bar."""

    region: Region
    rows: tuple[np.ndarray, ...] = ()
    score: float = 0.0
    confidence: float = 0.0
    evidence: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Glance:
    """A region seen squarely, and the rows fitted in that view."""

    seen: Rectified
    fits: list[RowFit]
    score: float


class Search:
    """One picture searched for bars: each place is looked at when it is first asked for, and only once; what lies
    within the outlines ``hidden`` (4, 2) is not."""

    def __init__(self, picture: Picture, scales: Scales | None = None, hidden: Sequence[np.ndarray] = ()):
        self.picture = picture
        self.scales = scales = scales or Scales.of(picture.pixels)
        self.hidden = hidden = tuple(hidden)
        self.glance = glance = cache(partial(_glance, scales, hidden=hidden))
        # nothing here holds the search itself: the picture goes when its search does
        self.settled = cache(lambda region: settle(scales, region, glance(region), hidden))

    def without(self, outlines: Sequence[np.ndarray]) -> "Search":
        """The same picture searched again without what lies within the outlines (4, 2)."""
        return Search(self.picture, self.scales, (*self.hidden, *outlines))

    def on_plain_ground(self) -> "Search":
        """The same picture searched again with its ground made plain."""
        return Search(replace(self.picture, pixels=on_plain_ground(self.picture.pixels)))

    @cached_property
    def regions(self) -> tuple[Region, ...]:
        return find_regions(self.scales)

    def bars(self) -> tuple[FoundBar, ...]:
        """The ribbon bars on the picture, best first; empty when there is none.

        Places are looked at in the order of their density. Once a bar is found, places that it fills are passed over,
        and so are places much less dense: a second bar is as dense as the first.
        """
        found = _bars_in(self, CLEAR) or _bars_in(self, FAINT)
        found.sort(key=lambda one: -_worth(one[0]))
        return tuple(_found(*one) for one in found)

    def candidates(self, known: Sequence[np.ndarray] = ()) -> tuple[Candidate, ...]:
        """All the places that may hold a bar, best first; beside bars ``known``, those where rows are plain at a glance
        and nearly as dense as theirs."""
        beside = [region for region in self.regions if not any(_within(region, outline) for outline in known)]
        densest = max((region.density for region in self.regions), default=0.0)
        dense = [region for region in beside if not known or region.density > AS_DENSE * densest]
        looked = [_look(self, region, CLEAR if known else FAINT, known) for region in dense]
        return tuple(sorted(looked, key=lambda candidate: (-candidate.confidence, -candidate.score)))

    def places(self, least: float, known: Sequence[np.ndarray] = ()) -> tuple[FoundBar, ...]:
        """Every place beside the bars ``known`` that may be one with a confidence of ``least``, best first, some one
        over another: for the reading to choose."""
        places: list[FoundBar] = []
        for candidate in self.candidates(known):
            if candidate.rows and candidate.confidence >= least:
                place = _found(candidate, bar_outline(candidate.rows))
                if not any(len(place.rows) == len(one.rows) and _same(place.corners, one.corners) for one in places):
                    places.append(place)
        return tuple(places)


def _within(region: Region, outline: np.ndarray) -> bool:
    """Whether most of a region lies in an outline (4, 2), or most of the outline in it."""
    return shared_area(region.corners(), outline) > 0.5 * min(_area(region.corners()), _area(outline))


def _found(candidate: Candidate, outline: np.ndarray) -> FoundBar:
    return FoundBar(outline, tuple(Row(row) for row in candidate.rows), candidate.confidence)


def _bars_in(search: Search, least: float) -> list[tuple[Candidate, np.ndarray]]:
    """The candidates that are bars, with their outlines."""
    found: list[tuple[Candidate, np.ndarray]] = []
    for region in search.regions:
        if any(_settled(region, candidate, outline) for candidate, outline in found):
            continue
        sure = [outline for candidate, outline in found if _is_whole(candidate, outline)]
        candidate = _look(search, region, least, sure)
        if candidate.confidence < LEAST_CONFIDENCE:
            continue
        outline = bar_outline(candidate.rows)
        rivals = [other for other in found if not apart(outline, other[1])]
        if all(_worth(candidate) > 1.2 * _worth(other) for other, _ in rivals):
            found = [other for other in found if all(other is not rival for rival in rivals)]
            found.append((candidate, outline))
    return found


def _worth(candidate: Candidate) -> float:
    return candidate.confidence * candidate.score


def _is_whole(candidate: Candidate, outline: np.ndarray) -> bool:
    """Whether a find is sure and its region held most of it: from a small part, the rest may have been missed."""
    return candidate.confidence > SURE and candidate.region.width > 0.75 * np.ptp(outline[:, 0])


def _settled(region: Region, candidate: Candidate, outline: np.ndarray) -> bool:
    """Whether a region need not be looked at after a bar was found."""
    if region.density < 0.7 * candidate.region.density:
        return True
    low, high = outline.min(axis=0), outline.max(axis=0)
    box = Region(*low, *(high - low), 0.0, 0.0)
    wide = min(region.x + region.width, high[0]) - max(region.x, low[0])
    tall = min(region.y + region.height, high[1]) - max(region.y, low[1])
    shared = max(wide, 0.0) * max(tall, 0.0)
    return _is_whole(candidate, outline) and (
        shared > 0.4 * region.width * region.height or shared > 0.6 * box.width * box.height
    )


def bar_outline(rows: tuple[np.ndarray, ...]) -> np.ndarray:
    """The quad (4, 2) about all rows, squared up by the longest of them."""
    square = cv2.getPerspectiveTransform(
        max(rows, key=lambda row: np.linalg.norm(row[1] - row[0])).astype(np.float32),
        np.float32([[0, 0], [1, 0], [1, 1], [0, 1]]),
    )
    flat = project(square, np.concatenate(rows))
    (left, top), (right, bottom) = flat.min(axis=0), flat.max(axis=0)
    box = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    return project(np.linalg.inv(square), box)


def _look(search: Search, region: Region, least: float, elsewhere: Sequence[np.ndarray]) -> Candidate:
    """What stands in a region, looked at closely if the rows score ``least`` and lie ``elsewhere`` than those bars.

    Rows of a bar near by may be the ones seen; a region that holds nothing of it is then looked at without it.
    """
    glance = search.glance(region)
    if glance is None or glance.score <= least:
        return Candidate(region, score=glance.score if glance else 0.0)
    if _lies_elsewhere(glance, elsewhere):
        return search.settled(region)
    again = None
    if all(apart(region.corners(), outline) for outline in elsewhere):
        again = _glance(search.scales, region, (*search.hidden, *elsewhere))
    if again is None or again.score <= least or not _lies_elsewhere(again, elsewhere):
        return Candidate(region, score=glance.score)
    return settle(search.scales, region, again, (*search.hidden, *elsewhere))


def _lies_elsewhere(glance: Glance, outlines: Sequence[np.ndarray]) -> bool:
    fits = glance.fits
    low = [min(fit.left for fit in fits), min(fit.top for fit in fits)]
    high = [max(fit.right for fit in fits), max(fit.bottom for fit in fits)]
    box = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    return all(apart(project(np.linalg.inv(glance.seen.from_photo), box), outline) for outline in outlines)


def _without(seen: Rectified, outlines: Sequence[np.ndarray]) -> Rectified:
    """A view in which what lies within the outlines (4, 2) has the colour of the rest."""
    if not len(outlines):
        return seen
    hidden = np.zeros(seen.features.shape[:2], np.uint8)
    for outline in outlines:
        cv2.fillConvexPoly(hidden, project(seen.from_photo, outline).round().astype(np.int32), 1)
    hidden = cv2.dilate(hidden, np.ones((2 * BESIDE_BAR + 1,) * 2, np.uint8)).astype(bool)
    if not hidden.any() or hidden.all():
        return seen
    features = seen.features.copy()
    features[hidden] = np.median(features[~hidden], axis=0)
    return replace(seen, features=features)


def _glance(scales: Scales, region: Region, hidden: Sequence[np.ndarray] = ()) -> Glance | None:
    """A region seen squarely, with its rows, without what lies within the outlines ``hidden``; None where there is
    nothing of many colours, or no lines to square by."""
    square = (
        square_up(scales, (region.x, region.y, region.width, region.height)) if _colourful(scales, region) else None
    )
    if square is None:
        return None
    flat = project(square, region.corners())
    (left, top), (right, bottom) = flat.min(axis=0), flat.max(axis=0)
    beside = 0.1 * (right - left) + 0.2 * (bottom - top)
    above = 0.35 * (bottom - top) + 0.02 * (right - left)
    seen = view(scales, square, np.array([left - beside, top - above, right + beside, bottom + above]), VIEW_WIDTH)
    if seen is None:
        return None
    seen = _without(seen, hidden)
    fits, score = fit_rows(Bands.of(seen.features))
    return Glance(seen, _on_picture(scales, seen, fits), score)


def _on_picture(scales: Scales, seen: Rectified, fits: list[RowFit]) -> list[RowFit]:
    """The rows without what lies beyond the picture's border, where a view goes on with the last pixels."""
    tall, wide = scales.levels[0].pixels.shape[:2]
    columns, back = np.arange(seen.features.shape[1]) + 0.5, np.linalg.inv(seen.from_photo)
    ended = []
    for fit in fits:
        x, y = project(back, np.column_stack([columns, np.full(len(columns), (fit.top + fit.bottom) / 2)]) - 0.5).T
        inside = np.flatnonzero((x > 0) & (x < wide) & (y > 0) & (y < tall))
        first, last = (inside[0], inside[-1] + 1) if len(inside) else (0, len(columns))
        left, right = max(fit.left, float(first)), min(fit.right, float(last))
        ended.append(replace(fit, left=left, right=right) if right - left > fit.height else fit)
    return ended


def _colourful(scales: Scales, region: Region) -> bool:
    """Whether the place shows more than one hue; most lapels, plates, pages and buttons need no closer look."""
    level = scales.at(max(region.width / 64, 1.0))
    x, y, width, height = (value / level.factor for value in (region.x, region.y, region.width, region.height))
    features = to_features(level.pixels[int(y) : int(y + height) + 1, int(x) : int(x + width) + 1])[..., 1:]
    spread = np.ptp(np.percentile(features.reshape(-1, 2), [4, 96], axis=0), axis=0)
    return float(np.hypot(*spread)) > LEAST_HUES


def settle(scales: Scales, region: Region, glance: Glance, hidden: Sequence[np.ndarray] = ()) -> Candidate:
    """The rows again, in a view framed on them with their stripes upright; then their ends; then their exact edges. No
    rows where one of them cannot be a row. What lies within the outlines ``hidden`` is not looked at."""
    seen, fits, score = glance.seen, glance.fits, glance.score
    bands, ended = Bands.of(seen.features), fits
    for _ in range(MOST_VIEWS):
        closer = _closer_view(scales, region, seen, ended)
        if closer is None:
            break
        closer = _without(closer, hidden)
        there = Bands.of(closer.features)
        again, better = fit_rows(there)
        if better < 0.8 * score:
            break
        bands, seen, fits, score = there, closer, _on_picture(scales, closer, again), better
        ended = _on_picture(scales, seen, settle_ends(bands, fits))
        if _clear_of_border(seen, ended):
            break
    if ended is fits:
        ended = _on_picture(scales, seen, settle_ends(bands, fits))
    rows = refine(scales, seen.from_photo, ended)
    level = _level_view(scales, seen, rows)
    if level is not None:
        level = _without(level, hidden)
        there = Bands.of(level.features)
        again, better = fit_rows(there)
        if better > score:
            bands, fits, score = there, _on_picture(scales, level, again), better
            ended = _on_picture(scales, level, settle_ends(bands, fits))
            rows = refine(scales, level.from_photo, ended)
    if not all(may_be_row(scales, row) for row in rows):
        return Candidate(region, score=score)
    found = evidence(bands, ended, score)
    return Candidate(region, tuple(rows), score, confidence(found), found)


def _clear_of_border(seen: Rectified, fits: list[RowFit]) -> bool:
    """Whether the view shows enough beyond the rows' ends to be sure of them."""
    room = min(min(fit.left for fit in fits), seen.features.shape[1] - max(fit.right for fit in fits))
    return room > 1.0 * max(fit.height for fit in fits)


def _closer_view(scales: Scales, region: Region, seen: Rectified, fits: list[RowFit]) -> Rectified | None:
    c, m = lean(seen.features, fits)
    left, right = min(fit.left for fit in fits), max(fit.right for fit in fits)
    top, bottom = min(fit.top for fit in fits), max(fit.bottom for fit in fits)
    middle = (top + bottom) / 2
    upright = np.array([[1, -c, c * middle], [0, 1, -middle], [0, m, 1 - m * middle]])
    flat = project(upright, np.array([[left, top], [right, top], [right, bottom], [left, bottom]]))
    (left, top), (right, bottom) = flat.min(axis=0), flat.max(axis=0)
    height = float(np.median([fit.height for fit in fits]))
    place = project(upright @ seen.from_photo, region.corners())
    left = max(min(left - 2.8 * height, place[:, 0].min() - height), left - 8 * height)
    right = min(max(right + 2.8 * height, place[:, 0].max() + height), right + 8 * height)
    frame = np.array([left, top - 1.2 * height, right, bottom + 1.2 * height])
    width = int(np.clip((frame[2] - frame[0]) / height * ROW_PIXELS, 60, 900))
    return view(scales, upright @ seen.from_photo, frame, width)


def _level_view(scales: Scales, seen: Rectified, rows: list[np.ndarray]) -> Rectified | None:
    """The view with the rows level; None where they are already, or cannot be rows. Where they rise across it, what
    lies further along a row is not seen to go on with it."""
    if not all(may_be_row(scales, row) for row in rows):
        return None
    there = [project(seen.from_photo, row) for row in rows]
    longest = max(there, key=lambda row: np.ptp(row[:, 0]))
    rise = longest[1] + longest[2] - longest[0] - longest[3]
    slope = rise[1] / rise[0]
    if abs(slope) < RISING:
        return None
    height, width = seen.features.shape[:2]
    middle = longest[:, 0].mean()
    level = np.array([[1, 0, 0], [-slope, 1, slope * middle], [0, 0, 1]])
    return view(scales, level @ seen.from_photo, np.array([-0.5, -0.5, width - 0.5, height - 0.5]), width)


def may_be_row(scales: Scales, row: np.ndarray) -> bool:
    """Whether a quad (4, 2) can be a row seen by a camera: convex, on the picture, its opposite sides of like length,
    large enough to be read; a homography from few lines can turn one inside out."""
    height, width = scales.levels[0].pixels.shape[:2]
    beyond = 0.02 * max(height, width)
    quad = row.astype(np.float32)
    on_picture = (row > -beyond).all() and (row < [width + beyond, height + beyond]).all()
    sides = np.linalg.norm(np.roll(row, -1, axis=0) - row, axis=1)
    alike = np.abs(np.log(sides[:2] / np.maximum(sides[2:], 1e-6))).max() < np.log(MOST_FORESHORTENED)
    tall = sides[1] + sides[3] > 2 * LEAST_TALL
    return bool(
        on_picture and alike and tall and cv2.isContourConvex(quad) and cv2.contourArea(quad, oriented=True) > 0
    )


def _same(one: np.ndarray, other: np.ndarray) -> bool:
    return shared_area(one, other) > 0.9 * max(map(_area, (one, other)))


def apart(one: np.ndarray, other: np.ndarray) -> bool:
    """Whether two outlines (4, 2) share so little that they are two bars'."""
    return shared_area(one, other) < 0.2 * min(map(_area, (one, other)))


def shared_area(one: np.ndarray, other: np.ndarray) -> float:
    """Area, in pixels of the picture, that two outlines (4, 2) both cover."""
    shared, _ = cv2.intersectConvexConvex(*(cv2.convexHull(quad.astype(np.float32)) for quad in (one, other)))
    return shared


def _area(outline: np.ndarray) -> float:
    return cv2.contourArea(outline.astype(np.float32))


def bar_from_corners(picture: Picture, corners: np.ndarray) -> FoundBar:
    """The bar within an outline given by hand: (4, 2), clockwise from top left, pixels of the upright picture."""
    corners = np.asarray(corners, np.float64)
    scales = Scales.of(picture.pixels)
    tall = np.linalg.norm(corners[3] - corners[0]) + np.linalg.norm(corners[2] - corners[1])
    wide = np.linalg.norm(corners[1] - corners[0]) + np.linalg.norm(corners[2] - corners[3])
    high = tall / wide
    square = cv2.getPerspectiveTransform(corners.astype(np.float32), np.float32([[0, 0], [1, 0], [1, high], [0, high]]))
    seen = view(scales, square, np.array([-0.06, -0.15 * high, 1.06, 1.15 * high]), VIEW_WIDTH)
    fits, score = fit_rows(Bands.of(seen.features)) if seen is not None else ([], 0.0)
    if not fits:
        return FoundBar(corners, (Row(corners),), 1.0)
    region = Region(*corners.min(axis=0), *np.ptp(corners, axis=0), 0.0, 0.0)
    rows = settle(scales, region, Glance(seen, fits, score)).rows or (corners,)
    return FoundBar(corners, tuple(map(Row, rows)), 1.0)
