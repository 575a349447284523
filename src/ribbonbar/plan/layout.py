"""The sheet in millimetres: one geometry, from which every kind of drawing is made.

Coordinates run from the page's upper left corner, x to the right and y down. The bar stands on it at its true size.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import inf

from ribbonbar.errors import Exit
from ribbonbar.plan.bar import CAUTIONS, PlannedBar, PlannedRibbon, describe_pattern, emblem_words
from ribbonbar.plan.cutting import CuttingList, allowance, mm, total_words
from ribbonbar.plan.emblems import emblem_marks
from ribbonbar.spec.model import Ribbon

INK, GREY, PAPER = "#1a1a1a", "#595959", "#ffffff"
MARGIN_MM = 13.0
FOOT_MM = 14.0
"""Kept free below the text for the check line."""
CHECK_LINE_MM = 50.0
A4_MM = (210.0, 297.0)
TITLE, HEADING, BODY, SMALL = 5.0, 3.8, 3.1, 2.3
"""Sizes of lettering in mm (of the em)."""
_LEADING = 1.35
_MOST_LETTERS = 1500


@dataclass(frozen=True)
class Cloth:
    """A ribbon on the bar, ``width`` by ``height``; ``ribbon`` is None where the pattern is not settled."""

    x: float
    y: float
    width: float
    height: float
    ribbon: Ribbon | None
    name: str = ""


@dataclass(frozen=True)
class Line:
    x1: float
    y1: float
    x2: float
    y2: float
    thickness: float = 0.2
    colour: str = INK


@dataclass(frozen=True)
class Text:
    """One line of lettering; ``y`` is its base line, ``x`` its left end or, with ``middle``, its middle.

    ``room`` is the width it must not exceed; a renderer whose letters run wider sets them smaller.
    """

    x: float
    y: float
    text: str
    size: float = BODY
    bold: bool = False
    middle: bool = False
    colour: str = INK
    room: float = inf


@dataclass(frozen=True)
class Shape:
    """A closed outline."""

    points: tuple[tuple[float, float], ...]
    fill: str
    edge: str = INK


Item = Cloth | Line | Text | Shape


@dataclass(frozen=True)
class Page:
    width: float
    height: float
    items: tuple[Item, ...]


@dataclass(frozen=True)
class Layout:
    title: str
    pages: tuple[Page, ...]


def sheet(bars: Sequence[PlannedBar], cutting: CuttingList, paged: bool = False) -> Layout:
    """Lay out the bars with their legends and what to cut for them.

    ``paged``: A4 pages, wider ones only where a bar at its true size asks for it; else one page as high as needed.
    """
    widest = max((width for bar in bars for width in bar.row_widths), default=0.0) + 2 * MARGIN_MM + _SIDE_MM
    upright = widest <= A4_MM[0]
    width, height = A4_MM if upright else (max(widest, A4_MM[1]), A4_MM[0])
    flow = _Flow(width, height if paged else inf)
    for number, bar in enumerate(bars):
        if number and paged:
            flow.new_page()
        _one_bar(flow, bar, {p.position: p.length_mm for p in cutting.pieces if p.bar == number})
    if len(bars) > 1:
        flow.heading("To cut, all together")
        for total in cutting.totals:
            flow.paragraph(total_words(total))
    flow.y += 3
    editions = "; ".join(dict.fromkeys(edition for bar in bars for edition in bar.editions))
    used = [f"Specification files used: {editions}"] if editions else []
    flow.small((allowance(cutting), " ".join(CAUTIONS), *used))
    title = "; ".join(bar.reference for bar in bars if bar.reference) or "Ribbon bar"
    return Layout(f"{title}: drawing at true size", flow.finished())


_SIDE_MM = 14.0  # for the height written beside the bar


_VERDICTS = {
    Exit.SETTLED: "Settled.",
    Exit.UNCONFIRMED: "Not settled: see the questions below before it is made.",
    Exit.BROKEN: "A rule is broken by what is held: see the findings below.",
}


def _one_bar(flow: "_Flow", bar: PlannedBar, lengths: dict[str, float]) -> None:
    flow.text(bar.reference or "Ribbon bar", TITLE, bold=True)
    flow.paragraph(f"{bar.order.title} ({bar.order.key}). True size, as a viewer sees it.")
    flow.text(_VERDICTS[bar.exit_status], BODY, bold=True)
    if len(bar.rows) > 1:
        flow.heading("The bar")
        _whole_bar(flow, bar)
    flow.heading("Row by row" if len(bar.rows) > 1 else "The bar")
    for row, left in zip(bar.rows, _lefts(bar), strict=True):
        _labelled_row(flow, row, left, bar.height_mm)
    if bar.questions:
        flow.heading("To be settled before it is made")
        for question in bar.questions:
            flow.paragraph(f"? {question.message}")
    if bar.findings:
        flow.heading("Findings")
        for finding in bar.findings:
            flow.paragraph(f"{finding.severity}: {finding.message}")
    flow.heading("Each position")
    sources = Sources()
    for ribbon, before in zip(bar.ribbons, (None, *bar.ribbons), strict=False):
        _legend_entry(flow, ribbon, lengths[ribbon.position], why_after(bar, ribbon, before, sources))
    flow.small(sources.listed)


def _whole_bar(flow: "_Flow", bar: PlannedBar) -> None:
    """All rows touching, as they will be worn, with width and height written beside them."""
    height = bar.height_mm * len(bar.rows)
    widest = max(bar.row_widths)
    flow.keep_together(min(height + 8, flow.body))
    top, page = flow.y, flow.items
    for row, left in zip(bar.rows, _lefts(bar), strict=True):
        flow.keep_together(bar.height_mm)
        x = left
        for ribbon in row:
            flow.ribbon(ribbon, x, bar.height_mm)
            x += ribbon.width_mm
        flow.y += bar.height_mm
    if flow.items is page:
        edge = MARGIN_MM + widest + 3
        flow.items += [Line(edge, top, edge, flow.y), *_ticks_across(edge, (top, flow.y))]
        flow.items.append(Text(edge + 1.5, (top + flow.y) / 2 + 1, f"{mm(height)} mm", SMALL))
    flow.y += 3
    flow.items.append(Line(MARGIN_MM, flow.y, MARGIN_MM + widest, flow.y))
    flow.items += [Line(x, flow.y - 1, x, flow.y + 1) for x in (MARGIN_MM, MARGIN_MM + widest)]
    flow.items.append(Text(MARGIN_MM + widest / 2, flow.y + 3.2, f"{mm(widest)} mm", SMALL, middle=True))
    flow.y += 5


def _ticks_across(x: float, heights: Iterable[float]) -> list[Item]:
    return [Line(x - 1, y, x + 1, y) for y in heights]


def _labelled_row(flow: "_Flow", row: Sequence[PlannedRibbon], x: float, height: float) -> None:
    """One row from ``x`` on, with its position numbers, names and emblems written beneath."""
    names = [_under(ribbon) for ribbon in row]
    depth = max(len(lines) for lines in names) * SMALL * _LEADING
    flow.keep_together(height + depth + 9)
    for ribbon, lines in zip(row, names, strict=True):
        flow.ribbon(ribbon, x, height)
        middle, y = x + ribbon.width_mm / 2, flow.y + height
        flow.items.append(Line(middle, y, middle, y + 1.2))
        flow.items.append(Text(middle, y + 4.2, ribbon.position, BODY, bold=True, middle=True))
        for number, line in enumerate(lines, 1):
            base = y + 4.2 + number * SMALL * _LEADING
            flow.items.append(Text(middle, base, line, SMALL, middle=True, room=ribbon.width_mm - 1))
        x += ribbon.width_mm
    flow.y += height + depth + 8


def _under(ribbon: PlannedRibbon) -> list[str]:
    lines = wrap(ribbon.award.name, ribbon.width_mm - 2, SMALL)
    for emblem in dict.fromkeys(ribbon.emblems):
        count = ribbon.emblems.count(emblem)
        words = f"{count} × {emblem_words(emblem)}" if count > 1 else emblem_words(emblem)
        lines += wrap(f"with {words}", ribbon.width_mm - 2, SMALL)
    return lines


def _lefts(bar: PlannedBar) -> list[float]:
    """The left edge of each row: shorter rows at the senior end (the viewer's left) or centred, as the order rules."""
    widest = max(bar.row_widths, default=0.0)
    share = 0.0 if bar.order.short_row_align == "senior" else 0.5
    return [MARGIN_MM + (widest - width) * share for width in bar.row_widths]


def _legend_entry(flow: "_Flow", ribbon: PlannedRibbon, length: float, why: str) -> None:
    award = ribbon.award
    short = f" ({award.abbreviation})" if award.abbreviation else ""
    lines = [f"{mm(ribbon.width_mm)} mm wide, cut {mm(length)} mm"]
    if ribbon.ribbon and (len(award.ribbons) > 1 or ribbon.because):
        lines.append(f"pattern {describe_pattern(ribbon.ribbon)}{f': {ribbon.because}' if ribbon.because else ''}")
    elif not ribbon.ribbon:
        lines.append("pattern to be settled")
    if ribbon.ribbon and ribbon.ribbon.unmatched:
        lines.append(f"not drawn: {ribbon.ribbon.unmatched}")
    for emblem in dict.fromkeys(ribbon.emblems):
        count = ribbon.emblems.count(emblem)
        words = f"{count} × {emblem_words(emblem)}" if count > 1 else emblem_words(emblem)
        lines.append(f"with {words}{f': {emblem.meaning}' if emblem.meaning else ''}")
    flow.entry(ribbon.position, f"{award.name}{short}", ["; ".join(lines), *([why] if why else [])])


class Sources:
    """Numbers each published source once; ``listed`` are the lines that explain the numbers."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def mark(self, source: str) -> str:
        return f" [{self._numbers.setdefault(source, len(self._numbers) + 1)}]" if source else ""

    @property
    def listed(self) -> list[str]:
        return [f"[{number}] {source}" for source, number in self._numbers.items()]


def why_after(bar: PlannedBar, ribbon: PlannedRibbon, before: PlannedRibbon | None, sources: Sources) -> str:
    """Why a ribbon stands behind its neighbour, with the number of the source; empty for the first."""
    for reason in bar.reasons:
        if before and (reason.first, reason.second) == (before.award.key, ribbon.award.key):
            return f"After {before.award.name}: {reason.because}{sources.mark(reason.source)}"
    return ""


class _Flow:
    """Fills pages from the top; ``y`` is where the next thing goes."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.items: list[Item] = []
        self.pages: list[list[Item]] = [self.items]
        self.y = MARGIN_MM

    @property
    def body(self) -> float:
        """The height of a page's part for text and drawing."""
        return self.height - MARGIN_MM - FOOT_MM

    def new_page(self) -> None:
        self.items = []
        self.pages.append(self.items)
        self.y = MARGIN_MM

    def keep_together(self, height: float) -> None:
        """Go to a new page when this much does not fit on the present one."""
        if self.y + height > self.height - FOOT_MM and self.y > MARGIN_MM:
            self.new_page()

    def text(self, text: str, size: float, bold: bool = False, indent: float = 0.0, colour: str = INK) -> None:
        room = self.width - 2 * MARGIN_MM - indent
        for line in wrap(text, room, size, bold):
            self.keep_together(size * _LEADING)
            self.y += size * _LEADING
            self.items.append(Text(MARGIN_MM + indent, self.y - size * 0.3, line, size, bold, colour=colour, room=room))

    def paragraph(self, text: str) -> None:
        self.text(text, BODY)

    def heading(self, text: str) -> None:
        self.keep_together(22)  # never a heading alone at the foot
        self.y += 2.5
        self.text(text, HEADING, bold=True)
        self.y += 1

    def entry(self, label: str, title: str, lines: Iterable[str]) -> None:
        self.keep_together(4 * BODY * _LEADING)
        start, page = self.y, self.items
        self.text(title, BODY, bold=True, indent=10)
        page.append(Text(MARGIN_MM, start + BODY * (_LEADING - 0.3), label, BODY, bold=True))
        self.small(lines, indent=10)
        self.y += 0.8

    def small(self, lines: Iterable[str], indent: float = 0.0) -> None:
        for line in lines:
            self.text(line, SMALL * 1.1, indent=indent, colour=GREY)

    def ribbon(self, ribbon: PlannedRibbon, x: float, height: float) -> None:
        cloth = replace(ribbon.ribbon, height_mm=height) if ribbon.ribbon else None
        self.items.append(Cloth(x, self.y, ribbon.width_mm, height, cloth, ribbon.award.name))
        middle = self.y + height / 2
        if cloth is None or (cloth.unmatched and not ribbon.emblems):
            words = "pattern to be settled" if cloth is None else "not drawn: see below"
            room = ribbon.width_mm - 1
            self.items.append(Text(x + ribbon.width_mm / 2, middle + 0.8, words, SMALL, middle=True, room=room))
        for number, emblem in enumerate(ribbon.emblems, 1):
            centre = x + ribbon.width_mm * number / (len(ribbon.emblems) + 1)
            size = min(height * 0.62, ribbon.width_mm / (len(ribbon.emblems) + 1))
            for points, fill, letters in emblem_marks(emblem):
                placed = tuple((centre + px * size / 2, middle + py * size / 2) for px, py in points)
                self.items.append(Shape(placed, fill))
                if letters:
                    base, em = middle + size * 0.22, size * 0.62
                    self.items.append(Text(centre, base, letters, em, bold=True, middle=True, room=size * 0.8))

    def finished(self) -> tuple[Page, ...]:
        """The pages, each with the check line at its foot."""
        height = self.y + FOOT_MM if self.height == inf else self.height
        number_of = len(self.pages)
        return tuple(
            Page(self.width, height, (*items, *_foot(self.width, height, number, number_of)))
            for number, items in enumerate(self.pages, 1)
        )


def _foot(width: float, height: float, number: int, number_of: int) -> list[Item]:
    y, start = height - 8.0, MARGIN_MM
    marks = [start + CHECK_LINE_MM * tenth / 5 for tenth in range(6)]
    room = width - 2 * MARGIN_MM - CHECK_LINE_MM - 18
    words = wrap("This line is 50 mm long. Where it is not, print again at 100 % (actual size).", room, SMALL)
    items: list[Item] = [Line(start, y, start + CHECK_LINE_MM, y, 0.25)]
    items += [Line(x, y - (2 if x in (marks[0], marks[-1]) else 1), x, y, 0.2) for x in marks]
    base = y - (len(words) - 1) * SMALL * _LEADING
    for line, text in enumerate(words):
        items.append(Text(start + CHECK_LINE_MM + 3, base + line * SMALL * _LEADING, text, SMALL, room=room))
    if number_of > 1:
        items.append(Text(width - MARGIN_MM - 5, y, f"{number} of {number_of}", SMALL, middle=True))
    return items


def wrap(text: str, room: float, size: float, bold: bool = False) -> list[str]:
    """Break a text into lines of at most ``room`` mm; a word longer than that is cut, and so is an endless text."""
    lines, line = [], ""
    shown = text if len(text) <= _MOST_LETTERS else f"{text[:_MOST_LETTERS]} …"
    for word in shown.split():
        while text_width(word, size, bold) > room and len(word) > 1:
            cut = max(1, int(len(word) * room / text_width(word, size, bold)))
            while cut > 1 and text_width(word[:cut], size, bold) > room:
                cut -= 1
            lines += [line, word[:cut]] if line else [word[:cut]]
            line, word = "", word[cut:]
        longer = f"{line} {word}" if line else word
        if line and text_width(longer, size, bold) > room:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line] if line or not lines else lines


def text_width(text: str, size: float, bold: bool = False) -> float:
    """The width of lettering in mm, on the wide side, so that the renderers' own letters fit."""
    return _measure().getlength(text) / 100 * size * (1.16 if bold else 1.08)


@lru_cache(1)
def _measure():
    from PIL import ImageFont

    return ImageFont.load_default(100)
