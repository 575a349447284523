"""The report for a terminal, read in five seconds: outcome, a line a ribbon, what to do, cautions."""

from collections.abc import Callable, Iterator
from functools import lru_cache

import numpy as np

from ribbonbar.findings import Finding
from ribbonbar.report import verdict, words
from ribbonbar.report.describe import differences
from ribbonbar.report.layout import as_it_should_be, pattern, positions
from ribbonbar.report.model import CAUTIONS, Position, Report
from ribbonbar.report.text import columns, pad, safe_text, wrap
from ribbonbar.spec.colour import lab_from_hex, lab_from_linear
from ribbonbar.spec.draw import weave
from ribbonbar.spec.model import Ribbon, Specification

_BOLD, _DIM, _PLAIN = "\x1b[1m", "\x1b[2m", "\x1b[0m"
_BANNERS = {
    "in-order": "\x1b[30;46m",
    "out-of-order": "\x1b[97;41m",
    "unconfirmed": "\x1b[30;43m",
    "no-bar": "\x1b[30;47m",
}
_Paint = Callable[[str, str], str]
_SWATCH = 10  # columns a ribbon is drawn with
_NARROWEST = 40
_WIDEST = 110  # longer lines are hard to read


def render(report: Report, specification: Specification, width: int = 80, colour: bool = False) -> str:
    """The report in lines of at most ``width`` columns (never laid out narrower than 40), with a line end.

    ``colour`` adds weight and a small drawing of each ribbon; the words alone say everything. Texts from files cannot
    steer the terminal: see ``safe_text``.
    """
    width = max(_NARROWEST, min(width, _WIDEST))
    paint = _paint if colour else _as_is
    lines = [*_outcome(report, width, paint)]
    for bar in report.bars:
        for number, row in enumerate(bar.rows, 1):
            lines += [""] if number == 1 or len(row) > 1 else []
            if len(bar.rows) > 1:
                lines.append(paint(f"  Row {number}", _DIM))
            for position in row:
                lines += _ribbon(report, position, specification, width, paint if colour else None)
    for group in verdict.groups(report):
        lines += ["", paint(group.title, _BOLD)]
        for number, finding in enumerate(group.findings, 1):
            lines += _finding(finding, number if len(group.findings) > 1 else 0, specification, width)
    lines += _sequence(report, specification, width, paint)
    lines += _footing(report, specification, width, paint)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def swatch(ribbon: Ribbon, width: int = _SWATCH, reversed: bool = False) -> str:
    """One line of ``width`` columns showing the ribbon in the 256 colours that every colour terminal has."""
    if ribbon.shape == "bands":  # half a line is the finest a terminal can show, half a column otherwise
        pairs, block = weave(ribbon, width, 2).swapaxes(0, 1), "▀"
    else:
        pairs, block = weave(ribbon, 2 * width, 9, reversed)[4].reshape(width, 2, 3), "▌"
    distance = np.linalg.norm(_palette() - lab_from_linear(pairs)[:, :, None], axis=-1)
    return "".join(f"\x1b[38;5;{a};48;5;{b}m{block}" for a, b in distance.argmin(axis=-1) + 16) + _PLAIN


def _as_is(text: str, style: str) -> str:
    return text


def _paint(text: str, style: str) -> str:
    return f"{style}{text}{_PLAIN}"


def _outcome(report: Report, width: int, paint: _Paint) -> Iterator[str]:
    photo = safe_text(report.photo.name)
    banner = f" {verdict.title(report).upper()} "
    yield paint(banner, _BOLD + _BANNERS[report.outcome]) + "  " + pad(photo, width - columns(banner) - 2).rstrip()
    yield from _indented(safe_text(verdict.summary(report)), width, 1)
    if report.work_order:
        yield from _indented(f"Held against work order {safe_text(report.work_order)}.", width, 1)


def _ribbon(
    report: Report, position: Position, specification: Specification, width: int, paint: _Paint | None
) -> Iterator[str]:
    """One line, or two where the remarks do not fit: mark, position, drawing, name, how sure, remarks."""
    mark = {verdict.WRONG: ">", verdict.DOUBTFUL: "?"}.get(verdict.sign(report, position), " ")
    numbers = max(4, *(len(p.position) for p in positions(report))) + 1
    start = f"{mark} {position.position:<{numbers}}"
    best = position.candidates[0] if position.candidates else None
    drawn = ""
    if paint:
        known = pattern(specification.awards.get(best.award), best.ribbon) if best else None
        drawn = (swatch(known, reversed=best.reversed) if known else paint("·" * _SWATCH, _DIM)) + "  "
        start = paint(start, _BOLD) if mark != " " else start
    begin = numbers + 2 + (_SWATCH + 2 if drawn else 0)
    name = safe_text(words.names(position, specification))
    said = "; ".join(filter(None, [words.how_sure(position), *verdict.remarks(report, position)]))
    room = width - begin
    name_width = min(max(room - 34, 20), 40)
    if columns(name) <= name_width and columns(said) <= room - name_width - 2:
        yield f"{start}{drawn}{pad(name, name_width)}  {said}"
    else:
        first, *more = wrap(name, room)
        yield f"{start}{drawn}{first}"
        for line in [*more, *wrap(said, room)] if said else more:
            yield " " * begin + line
    for line in _alternatives(position, specification, room):
        yield " " * begin + line


def _alternatives(position: Position, specification: Specification, room: int) -> Iterator[str]:
    """The names that cannot be told apart, each with what to look at."""
    if position.status != "ambiguous" or len(position.candidates) < 2:
        return
    best, *others = position.candidates
    for other in others[:3]:
        a, b = (pattern(specification.awards.get(c.award), c.ribbon) for c in (best, other))
        told = differences(a, b, best.reversed, other.reversed) if a and b else None
        first, second = (safe_text(words.name(c.award, specification)) for c in (best, other))
        if best.award == other.award:
            yield from wrap(f"- {first}, pattern {safe_text(other.ribbon)}: {words.percent(other.probability)}", room)
        elif told:
            yield from wrap(f"- {first} ({words.percent(best.probability)}): {safe_text(told[0])}", room)
            yield from wrap(f"- {second} ({words.percent(other.probability)}): {safe_text(told[1])}", room)
        else:
            yield from wrap(f"- {first} and {second} have the same ribbon; only the papers can tell", room)


def _finding(finding: Finding, number: int, specification: Specification, width: int) -> Iterator[str]:
    start = f"{number}. " if number else ""
    indent = 2 + len(start)
    first, *more = wrap(safe_text(verdict.message(finding), 1000), width - indent)
    yield f"  {start}{first}"
    for line in more:
        yield " " * indent + line
    title, _ = words.source(finding.source, specification)
    why = " ".join(filter(None, [safe_text(verdict.reason(finding), 1000), f"({safe_text(title)})" if title else ""]))
    if why:
        yield from _indented(why, width, indent)


def _sequence(report: Report, specification: Specification, width: int, paint: _Paint) -> Iterator[str]:
    """The bar as it should be, where that is not how it stands."""
    rows = as_it_should_be(report)
    slots = [slot for row in rows for slot in row]
    if report.outcome != "out-of-order" or not report.to_move:
        return
    yield ""
    yield paint(verdict.drawing_title(report), _BOLD)
    for slot in slots:
        name = safe_text(words.name(slot.award, specification))
        was = f"  now at {slot.was}" if slot.was else "  not on the bar"
        sure = not slot.was or verdict.surely_moves(report, slot.was)
        moved = f"  <- {'' if sure else 'perhaps '}move" if slot.moved else ""
        room = width - 11 - columns(was) - columns(moved)
        mark = ">" if slot.moved else " "
        yield f"{mark} {slot.number:<6} {pad(name, min(room, 44))}{was if slot.was != slot.number else ''}{moved}"


def _footing(report: Report, specification: Specification, width: int, paint: _Paint) -> Iterator[str]:
    yield ""
    if title := words.order_title(report, specification):
        yield from _indented(f"Held against: {safe_text(title)}", width, 2)
    for caution in CAUTIONS:
        yield from _indented(caution, width, 2)


def _indented(text: str, width: int, indent: int) -> list[str]:
    return [" " * indent + line for line in wrap(text, width - indent)]


@lru_cache(maxsize=1)
def _palette() -> np.ndarray:
    """CIE L*a*b* of the terminal's colours 16 to 255, (240, 3): a 6 x 6 x 6 cube and 24 greys, as xterm has them."""
    levels = (0, 95, 135, 175, 215, 255)
    cube = [(r, g, b) for r in levels for g in levels for b in levels]
    greys = [(v, v, v) for v in range(8, 239, 10)]
    return np.array([lab_from_hex("#{:02x}{:02x}{:02x}".format(*rgb)) for rgb in cube + greys])
