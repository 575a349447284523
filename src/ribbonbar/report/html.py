"""The report as HTML: one photo's page, the handover sheet, the overview of many. Each is one file that loads nothing.

Every text is escaped by the templates and made harmless before (`safe_text`); pictures are data URIs; a content
security policy in each page forbids everything else.
"""

import base64
import hashlib
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any, Protocol

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from ribbonbar.report import verdict, views, words
from ribbonbar.report.crop import Crop
from ribbonbar.report.drawings import bar_drawing
from ribbonbar.report.layout import Slots, as_it_should_be, as_ordered
from ribbonbar.report.model import CAUTIONS, Report
from ribbonbar.report.text import counted, listed, safe_text
from ribbonbar.spec.model import Specification

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
    density = _density(len(lines), len(findings))
    return _render(
        "handover.html",
        outcome=views.outcome(report, specification),
        reference=(work_order.reference if work_order else "") or report.work_order,
        on=words.day(on),
        photos=_photos(report, crops, specification),
        findings=findings[: density.findings],
        more=f"{len(findings) - density.findings} more are on the full report."
        if len(findings) > density.findings
        else "",
        lines=_in_columns(lines, density.columns),
        ordered_title="As ordered" if work_order else "As it should be",
        notes=CAUTIONS,
        rests=_rests_on(report, specification),
        size=density.size,
        gap=density.gap,
        columns=density.columns,
        **_drawing(rows, title, report, specification),
    )


@dataclass(frozen=True)
class _Density:
    """How closely a handover sheet is set, so that it stays on one page: points, millimetres, columns, findings."""

    size: float
    gap: float
    columns: int
    findings: int


def _density(lines: int, findings: int) -> _Density:
    if lines + 2 * findings <= 14:
        return _Density(9.5, 0.9, 1, findings)
    if lines <= 12:
        return _Density(8.5, 0.5, 1, 8)
    return _Density(8.0, 0.3, 2, 6) if lines <= 30 else _Density(7.0, 0.1, 3 if lines > 45 else 2, 5)


def _in_columns(lines: tuple[views.HandoverLine, ...], columns: int) -> list[tuple[views.HandoverLine, ...]]:
    each = -(-len(lines) // columns)
    return [lines[i : i + each] for i in range(0, len(lines), each)] if lines else []


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
    align = order.short_row_align if order else "centre"
    signs = {slot.number: verdict.slot_sign(slot, report) for row in rows for slot in row}
    return {
        "drawing": bar_drawing(rows, specification, signs, align) if rows else None,
        "drawing_title": title,
        "drawing_alt": views.drawing_alt(title, rows, report, specification),
        "slots": views.slot_views(rows, report, specification),
        "widest": max((len(row) for row in rows), default=1),
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
