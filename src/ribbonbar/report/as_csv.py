"""Reports as a table for a spreadsheet: one line a ribbon, and one for a photo that shows none."""

import csv
import io
from collections.abc import Iterable

from ribbonbar.report import verdict, words
from ribbonbar.report.layout import as_it_should_be, positions
from ribbonbar.report.model import Position, Report
from ribbonbar.report.text import safe_text
from ribbonbar.spec.model import Specification

COLUMNS = (
    "photo",
    "outcome",
    "order of wear",
    "work order",
    "position",
    "should be at",
    "status",
    "award",
    "name",
    "pattern",
    "back to front",
    "probability",
    "given by hand",
    "may also be",
    "emblems",
    "about this ribbon",
    "about the bar",
    "sha256",
)
_ABOUT_THE_PHOTO = ("mirrored-photo", "upside-down")  # they name every position, but are about none of them
_STARTS_FORMULA = "=+-@|%＝＋－＠"  # the last four: full-width forms, which spreadsheets take for the plain ones


def to_csv(reports: Iterable[Report], specification: Specification | None = None) -> str:
    """The table as text (RFC 4180: comma, CR LF, quotes doubled), with a heading line.

    ``specification`` gives the awards' names and the order's title; without it their keys stand alone. No cell is ever
    a formula: one that would begin like one begins with an apostrophe, as spreadsheets do it themselves. Written to a
    file it wants the encoding ``utf-8-sig``, by which spreadsheets know UTF-8.
    """
    table = io.StringIO()
    writer = csv.writer(table, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for report in reports:
        for line in _lines(report, specification or Specification()):
            writer.writerow([_harmless(line.get(column, "")) for column in COLUMNS])
    return table.getvalue()


def _lines(report: Report, specification: Specification) -> list[dict[str, str]]:
    about_bar = [f for f in report.findings if not f.positions or f.kind in _ABOUT_THE_PHOTO]
    whole = {
        "photo": report.photo.name,
        "outcome": report.outcome,
        "order of wear": words.order_title(report, specification),
        "work order": report.work_order,
        "about the bar": " ".join(f.message for f in about_bar),
        "sha256": report.photo.sha256,
    }
    should = {slot.was: slot.number for row in as_it_should_be(report) for slot in row}
    missing = [slot for row in as_it_should_be(report) for slot in row if not slot.was]
    lines = [_line(report, p, should.get(p.position, ""), specification) for p in positions(report)]
    lines += [
        {"should be at": s.number, "status": "missing", "award": s.award, "name": _name(s.award, specification)}
        for s in missing
    ]
    return [whole | line for line in lines] or [whole]


def _line(report: Report, position: Position, should_be: str, specification: Specification) -> dict[str, str]:
    line = {
        "position": position.position,
        "should be at": should_be,
        "status": position.status,
        "given by hand": "yes" if position.given_by_hand else "no",
        "emblems": "; ".join(e.kind for e in position.emblems),
        "about this ribbon": " ".join(
            f.message for f in verdict.at(report, position.position) if f.kind not in _ABOUT_THE_PHOTO
        ),
    }
    if not position.candidates:
        return line
    best, *others = position.candidates
    return line | {
        "award": best.award,
        "name": _name(best.award, specification),
        "pattern": best.ribbon,
        "back to front": "yes" if best.reversed else "no",
        "probability": f"{best.probability:.3f}",
        "may also be": "; ".join(f"{_name(c.award, specification) or c.award} ({c.probability:.3f})" for c in others),
    }


def _name(key: str, specification: Specification) -> str:
    award = specification.awards.get(key)
    return award.name if award else ""


def _harmless(cell: str) -> str:
    text = safe_text(cell, 2000)
    return f"'{text}" if text.startswith(tuple(_STARTS_FORMULA)) else text
