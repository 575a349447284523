"""Second thoughts about a bar's rows, once they have been read: what finding cannot know, the ribbons can tell."""

import operator
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np

from ribbonbar.photo.finding import bar_outline
from ribbonbar.photo.flattening import apply, part_of, unit_to_photo
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
HALF_A_RIBBON = 1.6
"""In row heights."""
CLEARLY, OF_TWO = 6.5, 9.0
"""Log evidence of a ribbon against the best that is in no specification: ground read as one reaches 6 (simulated
pictures), ribbons have 6 to 17; and of one of two stripes, for which the grain of wood or a seam passes."""
ENDING_TOGETHER = 2
"""Rows that must end a ribbon's width before another for its last to be doubted: one alone may be the short top row."""
OUT, ALIGNED, FLUSH, OFFSET = 0.35, 0.3, 0.08, 0.6
"""Ribbons by which it must end beyond all others, within which two rows end together, and do so to the eye; and by
which rows are set off against each other at most."""
NEAR_AN_EDGE, SAME_COLOUR = np.array([0.04, 0.25]), 0.025
"""Ribbons from an edge between which the colours on its two sides are compared, and cube-root light by which the same
cloth may differ there."""
LESS_CLEAR, FITS = 1.5, -72.0
"""Log evidence by which the ribbons known before may be less clear when others are read beside them; and of a ribbon's
likeliest look, below which it is no better than letters."""
SHOWS, STRIPE = 0.05, 0.03
"""Cube-root light by which colours change beyond a row's end where it may go on, across so many ribbons: cloth by
itself, with its noise, seldom reaches 0.04."""
PLAIN = -30.0
"""Free log evidence above which there is nothing but one colour: ground, where no ribbon is recognised."""
LEFT, RIGHT = 1, -1
"""A row's ends, as the way in which its ribbons follow from there."""


@dataclass(frozen=True)
class ReadBar:
    """A bar found, its rows made flat, and what was read of them."""

    found: FoundBar
    strips: tuple[Strip, ...]
    reading: BarReading


def as_read(found: FoundBar, strips: Sequence[Strip], reading: BarReading) -> FoundBar:
    """The bar with every row as long as it was read: the reading may have found an end elsewhere than finding did."""
    ends = ((readings[0].span[0], readings[-1].span[1]) for readings in reading.rows)
    rows = tuple(part_of(strip, *span) for strip, span in zip(strips, ends, strict=True))
    return replace(found, rows=tuple(map(Row, rows)), corners=bar_outline(rows))


def with_second_thoughts(bar: ReadBar, read: Callable[[FoundBar], ReadBar]) -> ReadBar:
    """The bar, or the variant of its rows that reads better; ``read`` reads a variant.

    A row of plain ground is left out, a gleam on the cloth under the bar, and an end ribbon that nobody knows where no
    other row reaches. A row that ends short of the others on one side is tried as long as they are: its last ribbon may
    be as dark as the cloth; and rows beyond whose ends there are stripes are tried ribbon after ribbon longer. Where
    much is not recognised, neighbouring rows are tried as one: a ribbon with level bands, or a metal frame, has edges
    along the row that can be taken for a row's.
    """
    said = bar.reading.rows
    kept = [row for row, own in zip(bar.found.rows, said, strict=True) if not _is_ground(own)]
    if len(kept) == len(said) > 1 and _is_gleam(bar):
        kept = kept[:-1]
    if kept and len(kept) < len(bar.found.rows):
        bar = read(_with_rows(bar.found, kept))
    bar = _without_what_sticks_out(bar, read)
    bar = _without_ground(bar, read)
    for number in range(len(bar.found.rows)):
        level, on_the_left = _levelled(bar.found, number)
        if level is not None:
            again = read(level)
            before, now = bar.reading.rows[number], again.reading.rows[number]
            more = len(now) - len(before)
            new = now[:more] if on_the_left else now[len(before) :]
            within = 0 < number < len(bar.found.rows) - 1  # only the top row is short, or upside down the last
            told = all(recognised(one) and one.stripes > 2 if within else _tells(one) for one in new)
            if more > 0 and told and _telling(again.reading) - _telling(bar.reading) >= sum(map(_tells, new)):
                bar = again
    if _telling(bar.reading):
        for way in LEFT, RIGHT:
            while (longer := _gone_on(bar, read, way)) is not bar:
                bar = longer
    if unrecognised(bar.reading) >= DOUBTFUL and len(bar.found.rows) <= MOST_JOINED:
        for merged in _merged(bar.found):
            again = read(merged)
            if unrecognised(again.reading) < unrecognised(bar.reading) - BETTER:
                bar = again
    return bar


def _without_what_sticks_out(bar: ReadBar, read: Callable[[FoundBar], ReadBar]) -> ReadBar:
    """The bar without end ribbons that nobody knows beyond the ends of all other rows: a lapel, a seam or a tie."""
    ends = _ends(bar.found)
    kept = list(bar.found.rows)
    for number, (strip, own) in enumerate(zip(bar.strips, bar.reading.rows, strict=True)):
        width = np.ptp(ends[number]) / len(own)
        beyond = (np.delete(ends, number, axis=0) - ends[number]) * [1, -1] / width  # ribbons by which each ends short
        left, right = _sticking_out(beyond[:, 0], own), _sticking_out(beyond[:, 1], own[::-1])
        if (left or right) and len(own) > left + right:
            kept[number] = _part(strip, own, left, right)
    if all(map(operator.is_, kept, bar.found.rows)):
        return bar
    again = read(_with_rows(bar.found, kept))
    better = _strangers(again.reading) < _strangers(bar.reading) and _telling(again.reading) >= _telling(bar.reading)
    return again if better else bar


def _sticking_out(beyond: np.ndarray, readings: tuple[Reading, ...]) -> int:
    """How many ribbons a row loses at the end that ``readings`` begin with, the other rows ending ``beyond`` (N,) of
    its ribbons before it."""
    if len(beyond) < ENDING_TOGETHER or beyond.min() <= OUT:
        return 0
    count = max(round(float(beyond.min())), 1)
    together = (np.abs(beyond - count) < 1.0 - OUT).sum() >= ENDING_TOGETHER
    return count if together and not any(map(recognised, readings[:count])) else 0


def _without_ground(bar: ReadBar, read: Callable[[FoundBar], ReadBar]) -> ReadBar:
    """The bar without what a short row ends in that is of one colour and goes on beyond its end, where the longest row
    does not end too: the ground passes for plain ribbons of its colour."""
    ends = _ends(bar.found)
    longest = ends[int(np.ptp(ends, axis=1).argmax())]
    kept = list(bar.found.rows)
    for number, (strip, own) in enumerate(zip(bar.strips, bar.reading.rows, strict=True)):
        alike = np.abs(ends[number] - longest) * len(own) < ALIGNED * np.ptp(ends[number])
        left, right = (
            0 if ends_there else _ground(strip, own, way) for ends_there, way in zip(alike, (LEFT, RIGHT), strict=True)
        )
        if (left or right) and len(own) > left + right:
            kept[number] = _part(strip, own, left, right)
    if all(map(operator.is_, kept, bar.found.rows)):
        return bar
    again = read(_with_rows(bar.found, kept))
    return again if _telling(again.reading) >= _telling(bar.reading) else bar


def _ground(strip: Strip, readings: tuple[Reading, ...], way: int) -> int:
    """How many ribbons, from the left (``way`` 1) or from the right end (-1) on, are of one colour that goes on beyond
    their outer edge without a step."""
    count = 0
    for reading in readings[::way]:
        if (reading.stripes > 1 and recognised(reading)) or not _goes_on(strip, reading, way):
            break
        count += 1
    return count


def _goes_on(strip: Strip, reading: Reading, way: int) -> bool:
    """Whether the colour at a ribbon's outer edge, its left (``way`` 1) or its right (-1), goes on beyond it."""
    width = strip.pixels.shape[1]
    start, end = np.array(reading.span) * width
    across = np.cbrt(strip.pixels.mean(0))[::way]
    edge = start if way == LEFT else width - end
    near, far = NEAR_AN_EDGE * (end - start)
    outside = across[max(round(edge - far), 0) : max(round(edge - near), 0)]
    inside = across[round(edge + near) : round(edge + far)]
    if not len(outside) or not len(inside):
        return False
    return float(np.abs(outside.mean(0) - inside.mean(0)).max()) <= SAME_COLOUR


def _gone_on(bar: ReadBar, read: Callable[[FoundBar], ReadBar], way: int) -> ReadBar:
    """The bar with the rows a ribbon longer, on the left or on the right, beyond whose ends a ribbon is recognised."""
    longer = {
        number: _longer(strip, own, way)
        for number, (strip, own) in enumerate(zip(bar.strips, bar.reading.rows, strict=True))
        if _stripes_beyond(strip, own, way)
    }
    while longer:
        tried = _with_rows(bar.found, [longer.get(n, row) for n, row in enumerate(bar.found.rows)])
        counts = [len(own) + (n in longer) for n, own in enumerate(bar.reading.rows)]
        if _sticks_out_alone(_ends(tried), counts, way) in longer:
            break
        again = read(tried)
        more = [len(now) - len(before) for before, now in zip(bar.reading.rows, again.reading.rows, strict=True)]
        new = {n: again.reading.rows[n][::way][0] for n in longer if more[n] == 1}
        told = [n for n, one in new.items() if _is_new(one, again.reading, _goes_on(again.strips[n], one, way))]
        if len(told) == len(longer):
            return again if sum(map(abs, more)) == len(told) and reads_as_well(again.reading, bar.reading) else bar
        longer = {number: longer[number] for number in told}
    return bar


def _sticks_out_alone(ends: np.ndarray, counts: list[int], way: int) -> int | None:
    """The row of several, whose ``ends`` (N, 2) these are, that alone ends beyond all others: the grain of wood or a
    seam goes on as it likes. ``counts`` says how many ribbons each row has."""
    ribbon = float(np.median(np.ptp(ends, axis=1) / counts))
    outer = ends[:, 0] if way == LEFT else -ends[:, 1]
    first = int(outer.argmin())
    alone = len(outer) > 1 and np.delete(outer, first).min() - outer[first] > OFFSET * ribbon
    return first if alone else None


def _is_new(reading: Reading, bar: BarReading, goes_on: bool) -> bool:
    """Whether a ribbon is told clearly, the more so where its colour goes on beyond its edge, fits its pattern and is
    no other's repetition: an award is worn once, and what the ground shows beyond one row it shows beyond all."""
    named = [one.candidates[0].award for row in bar.rows for one in row]
    fits = reading.free + reading.margin >= FITS and reading.margin >= (OF_TWO if goes_on else CLEARLY)
    return _tells(reading) and fits and named.count(reading.candidates[0].award) == 1


def _stripes_beyond(strip: Strip, readings: tuple[Reading, ...], way: int) -> bool:
    """Whether colours change within a ribbon's width beyond a row's end, at the same places above and below, and more
    than once: a lapel's edge and a shadow run aslant, a coat's edge is but one."""
    height, width = strip.pixels.shape[:2]
    end = width * (readings[0].span[0] if way == LEFT else 1 - readings[-1].span[1])
    ribbon = width * float(np.mean([reading.span[1] - reading.span[0] for reading in readings]))
    step = max(round(STRIPE * ribbon), 1)
    beyond = slice(max(round(end - 1.1 * ribbon), 0), max(round(end - 0.1 * ribbon), 0))
    if beyond.stop - beyond.start < 4 * step:
        return False
    changes = []
    for part in strip.pixels[: height // 2], strip.pixels[height // 2 :]:
        smooth = cv2.blur(np.cbrt(part.mean(0))[::way][beyond], (1, step))
        changes.append(np.abs(smooth[2 * step :] - smooth[: -2 * step]).max(1))
    both = np.minimum(*changes)
    starts = np.diff((both > SHOWS / 2).astype(int), prepend=0) > 0
    return bool(both.max() > SHOWS and starts.sum() > 1)


def _longer(strip: Strip, readings: tuple[Reading, ...], way: int) -> Row:
    """A row and a ribbon's width more at one end, as far as the strip goes: beyond may lie the horizon."""
    start, end = readings[0].span[0], readings[-1].span[1]
    ribbon = (end - start) / len(readings)
    ends = (max(start - ribbon, 0.0), end) if way == LEFT else (start, min(end + ribbon, 1.0))
    return Row(part_of(strip, *ends))


def _ends(found: FoundBar) -> np.ndarray:
    """Where each row begins and ends (N, 2), the longest row being the unit."""
    rows = [np.asarray(row.corners, float) for row in found.rows]
    onto = np.linalg.inv(unit_to_photo(max(rows, key=lambda row: np.linalg.norm(row[1] - row[0]))))
    return np.array([apply(onto, row[[0, 1, 3, 2]])[:, 0].reshape(2, 2).mean(0) for row in rows])


def _part(strip: Strip, readings: tuple[Reading, ...], left: int, right: int) -> Row:
    """A row without so many ribbons on its left and on its right."""
    return Row(part_of(strip, readings[left].span[0], readings[-1 - right].span[1]))


def _with_rows(found: FoundBar, rows: Sequence[Row]) -> FoundBar:
    return replace(found, rows=tuple(rows), corners=bar_outline(tuple(row.corners for row in rows)))


def _is_ground(readings: tuple[Reading, ...]) -> bool:
    return all(not recognised(reading) and reading.free > PLAIN for reading in readings)


def _is_gleam(bar: ReadBar) -> bool:
    """Whether the last row is light on the cloth: only the top row of a bar is short (common practice, no source), and
    what hangs under one twice as long, of one or two colours, is a flash's gleam or a pocket, unless it is clearly a
    ribbon that ends exactly where the bar does."""
    rows, last = bar.reading.rows, bar.reading.rows[-1]
    if 2 * len(last) > max(map(len, rows)) or any(reading.stripes > 2 for reading in last):
        return False
    *others, own = _ends(bar.found)
    flush = np.abs(own - others).min() * len(last) < FLUSH * np.ptp(own)
    return not (flush and all(recognised(one) and one.stripes > 1 and one.margin >= CLEARLY for one in last))


def recognised(reading: Reading) -> bool:
    """Whether a ribbon is so surely one of the catalogue's that it says something about where the rows are."""
    return reading.known >= RECOGNISED


def reads_as_well(other: BarReading, bar: BarReading) -> bool:
    """Whether the ribbons of several stripes that are recognised in two readings of a bar are as clear in the other."""
    clear, before = (
        {one.candidates[0].award: one.margin for row in read.rows for one in row if recognised(one) and one.stripes > 1}
        for read in (other, bar)
    )
    lost = [before[award] - clear[award] for award in clear.keys() & before.keys()]
    return bool(lost) and float(np.mean(lost)) < LESS_CLEAR


def unrecognised(bar: BarReading) -> float:
    """Share of a bar's ribbons that are not recognised."""
    return _strangers(bar) / _count(bar)


def _strangers(bar: BarReading) -> int:
    return sum(not recognised(reading) for row in bar.rows for reading in row)


def _telling(bar: BarReading) -> int:
    return sum(_tells(reading) for row in bar.rows for reading in row)


def _tells(reading: Reading) -> bool:
    """Whether a ribbon of several stripes is recognised clearly: cloth passes for a plain one, the grain of wood or a
    seam for one of two, and shadows for one of shades."""
    least = CLEARLY if reading.stripes > 2 else OF_TWO
    return recognised(reading) and reading.stripes > 1 and reading.margin >= least


def _count(bar: BarReading) -> int:
    return sum(map(len, bar.rows))


def _levelled(found: FoundBar, number: int) -> tuple[FoundBar | None, bool]:
    """The bar with a row that ends short of the longest on one side drawn out to it, and whether that is on the left;
    None where it does not. Only the top row of a bar is short (common practice, no source), and upside down it is the
    last: what is short on both sides is left."""
    rows = [np.asarray(row.corners, float) for row in found.rows]
    longest = max(rows, key=lambda row: np.linalg.norm(row[1] - row[0]))
    wide = np.linalg.norm(longest[1] - longest[0]) / max(np.linalg.norm(longest[3] - longest[0]), 1e-6)
    to_photo = unit_to_photo(longest)
    flat = apply(np.linalg.inv(to_photo), rows[number])
    ends = ([0, 3], 0.0), ([1, 2], 1.0)
    off = [(side, end) for side, end in ends if abs(flat[side, 0].mean() - end) * wide > HALF_A_RIBBON]
    if len(off) != 1:
        return None, False
    side, end = off[0]
    flat[side, 0] = end
    rows[number] = apply(to_photo, flat)
    return _with_rows(found, tuple(map(Row, rows))), side == [0, 3]


def _merged(found: FoundBar) -> Iterator[FoundBar]:
    """The bar with two neighbouring rows that begin and end together as one, for each such pair."""
    for upper, lower in pairwise(range(len(found.rows))):
        above, below = (np.asarray(found.rows[k].corners, float) for k in (upper, lower))
        apart = np.linalg.norm(above[[3, 2]] - below[[0, 1]], axis=1)
        if apart.max() < 0.15 * np.linalg.norm(above[1] - above[0]):
            joined = Row(np.array([above[0], above[1], below[2], below[3]]))
            yield replace(found, rows=(*found.rows[:upper], joined, *found.rows[lower + 1 :]))
