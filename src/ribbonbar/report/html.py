"""The report as HTML: one photo's page, the handover sheet, the overview of many. Each is one file that loads nothing.

Every text is escaped by the templates and made harmless before (`safe_text`); pictures are data URIs; a content
security policy in each page forbids everything else.
"""

import base64
import hashlib
import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any, Protocol, TypeVar

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from ribbonbar.report import verdict, views, words
from ribbonbar.report.crop import Crop
from ribbonbar.report.drawings import bar_drawing
from ribbonbar.report.layout import Slots, as_it_should_be, as_ordered
from ribbonbar.report.model import CAUTIONS, Report
from ribbonbar.report.text import counted, listed, safe_text
from ribbonbar.spec.model import Specification

_T = TypeVar("_T")
_LONGEST_TEXT = 4_000
_TEMPLATES = Path(__file__).parent / "templates"


def page(report: Report, crops: tuple[Crop | None, ...], specification: Specification) -> str:
    """One photo's report. ``crops`` are the report's bars, cut out (``crops_of``); () or None where there is none."""
    crops = crops or (None,) * len(report.bars)
    groups = views.finding_groups(report, specification)
    rows = as_it_should_be(report)
    return _render(
        "page.html",
        outcome=views.outcome(report, specification),
        groups=groups,
        photos=_photos(report, crops, specification),
        ribbons=views.ribbon_views(report, crops, specification, groups),
        notes=CAUTIONS,
        rests=_rests_on(report, specification),
        **_drawing(rows, verdict.drawing_title(report), report, specification),
    )


class WorkOrder(Protocol):
    """What the handover sheet wants to know of a work order: keys of awards, row by row or as held."""

    reference: str
    rows: tuple[tuple[str, ...], ...]
    held: tuple[Any, ...]
    """Each with ``award`` (a key) and ``emblems`` (a tuple of words)."""


def handover(
    report: Report,
    crops: tuple[Crop | None, ...],
    specification: Specification,
    work_order: WorkOrder | None,
    on: date,
) -> str:
    """The sheet that goes with a finished bar, one A4 page in print; ``on`` is the day written on it.

    Without rows in the work order (or without one) the bar is drawn as the report proposes it.
    """
    crops = crops or (None,) * len(report.bars)
    rows = as_ordered(report, work_order.rows) if work_order and work_order.rows else as_it_should_be(report)
    title = "As ordered" if work_order and work_order.rows else verdict.drawing_title(report)
    emblems = {held.award: tuple(held.emblems) for held in work_order.held} if work_order else {}
    groups = views.finding_groups(report, specification)
    findings = [finding for group in groups for finding in group.findings]
    lines = views.handover_lines(rows, report, specification, emblems)
    density = _density(lines, len(findings))
    return _render(
        "handover.html",
        outcome=views.outcome(report, specification),
        reference=(work_order.reference if work_order else "") or report.work_order,
        on=words.day(on),
        photos=_photos(report, crops, specification),
        findings=findings[: density.findings],
        more=max(len(findings) - density.findings, 0),
        lines=_in_columns(lines, density.columns),
        ordered_title="As ordered" if work_order else "As it should be",
        notes=CAUTIONS,
        rests=_rests_on(report, specification),
        density=density,
        **_drawing(rows, title, report, specification),
    )


@dataclass(frozen=True)
class _Density:
    """How closely a handover sheet is set, so that it stays on one page.

    ``size`` in points, ``gap`` and ``figure`` (most height of a picture) in millimetres; ``columns`` of the table;
    ``findings`` is how many are shown.
    """

    size: float
    gap: float
    columns: int
    figure: float
    findings: int


_SETTINGS = (  # size, gap, columns, figure; from open to close
    (9.5, 0.8, 1, 45.0),
    (8.5, 0.5, 1, 42.0),
    (7.5, 0.3, 2, 36.0),
    (6.5, 0.15, 3, 30.0),
    (5.7, 0.05, 3, 26.0),
    (5.0, 0.0, 3, 18.0),
)
_ROOM_MM = 143.0  # of the 275 mm between the margins: what heading, verdict, cautions and the last lines leave
_FINDING_MM = 11.0  # two lines of message, one of reason
_WIDTH_MM = 184.0


def _density(lines: tuple[views.HandoverLine, ...], findings: int) -> _Density:
    """The most open setting in which the table and the first few findings find room."""
    for size, gap, columns, figure in _SETTINGS:
        table = max(map(sum, _in_columns([_line_mm(line, size, gap, columns) for line in lines], columns)), default=0.0)
        shown = int((_ROOM_MM - figure - table) / _FINDING_MM)
        if shown >= min(findings, 4):
            return _Density(size, gap, columns, figure, shown)
    return _Density(size, gap, columns, figure, max(shown, 1))


def _line_mm(line: views.HandoverLine, size: float, gap: float, columns: int) -> float:
    """About how tall a line of the table is: its texts are wrapped in two thirds and one third of a column."""
    em = size * 25.4 / 72
    room = (_WIDTH_MM - 5 * (columns - 1)) / columns
    wrapped = (
        math.ceil(len(line.ordered) * 0.56 * em / (0.66 * room - 4.5 * em)),
        math.ceil(len(line.found) * 0.64 * em / (0.34 * room - 0.5 * em)),
    )
    return max(*wrapped, 1) * 1.35 * em + 2 * gap + 0.3


def _in_columns(items: Sequence[_T], columns: int) -> list[Sequence[_T]]:
    each = max(1, math.ceil(len(items) / columns))
    return [items[i : i + each] for i in range(0, len(items), each)]


@dataclass(frozen=True)
class Item:
    """One photo of an overview.

    ``thumbnail`` is a small JPEG of its bar (``crop.thumbnail``), empty where there is none. ``error`` is the line that
    says why the photo could not be audited; its report then has outcome ``no-bar``.
    """

    report: Report
    thumbnail: bytes = b""
    error: str = ""


def overview(items: Iterable[Item], specification: Specification) -> str:
    """Many reports on one page, worst first; the reader filters by outcome (without a script) and sorts (with one)."""
    shown = [
        views.overview_item(i, item.report, item.thumbnail, item.error, specification) for i, item in enumerate(items)
    ]
    shown.sort(key=lambda item: (views.WORST_FIRST.index(item.kind), item.given))
    counted_kinds = Counter(item.kind for item in shown)
    names = {**verdict.OUTCOMES, "unusable": "Not readable"}
    kinds = [(kind, names[kind], counted_kinds[kind]) for kind in views.WORST_FIRST if counted_kinds[kind]]
    script = (_TEMPLATES / "overview.js").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return _render(
        "overview.html",
        heading=f"{counted(len(shown), 'photograph')} of ribbon bars",
        counts=f"{listed([f'{name.lower()}: {count}' for _, name, count in kinds])}." if kinds else "",
        kinds=[("all", "All", len(shown)), *kinds],
        items=shown,
        notes=CAUTIONS,
        script=Markup(script),
        script_hash=Markup(f"sha256-{digest}"),
    )


def _photos(report: Report, crops: tuple[Crop | None, ...], specification: Specification) -> list[views.PhotoView]:
    pairs = zip(report.bars, crops, strict=True)
    return [views.photographed(report, bar, crop, specification) for bar, crop in pairs if crop]


def _drawing(rows: Slots, title: str, report: Report, specification: Specification) -> dict[str, Any]:
    """The drawn bar with its names, as the templates want it."""
    order = specification.orders.get(report.order_of_wear)
    alt = views.drawing_alt(title, rows, report, specification)
    align = order.short_row_align if order else "centre"
    signs = {slot.number: verdict.slot_sign(slot, report) for row in rows for slot in row}
    return {
        "drawing": bar_drawing(rows, specification, alt, signs, align) if rows else None,
        "drawing_title": title,
        "slots": views.slot_views(rows, report, specification),
    }


def _rests_on(report: Report, specification: Specification) -> list[str]:
    """What the report was made from, so that another person can make it again."""
    photo = report.photo
    lines = [f"Photo: {photo.name}, {photo.width} × {photo.height} pixels, SHA-256 {photo.sha256}"]
    order = specification.orders.get(report.order_of_wear)
    if order:
        title, _ = words.source(order.source, specification)
        lines.append(f"Order of wear: {order.title}{f' ({title})' if title and title != order.title else ''}")
    if report.editions:
        lines.append(f"Specification files: {'; '.join(report.editions)}")
    return lines


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        finalize=_harmless,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _harmless(value: Any) -> Any:
    """Every value a template prints passes here, before it is escaped."""
    if isinstance(value, Markup | int | float):
        return value
    if isinstance(value, str) and value.startswith(("data:image/jpeg;base64,", "data:image/svg+xml;base64,")):
        return value  # too long for `safe_text`, and escaped like any other text
    return safe_text(value, _LONGEST_TEXT)


def _render(template: str, **values: Any) -> str:
    return _environment().get_template(template).render(values)
