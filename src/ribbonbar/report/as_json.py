"""The report as JSON, ``ribbon-report/1``, and back again from files that may have been tampered with."""

import json
import re
from typing import Any, get_args

from ribbonbar.errors import RibbonbarError
from ribbonbar.findings import Finding, Kind, Severity
from ribbonbar.report.model import (
    CAUTIONS,
    Bar,
    Candidate,
    Corners,
    Outcome,
    Photo,
    Position,
    Report,
    SeenEmblem,
    Status,
)

FORMAT = "ribbon-report/1"
_MOST_ITEMS = 2_000  # in any one list: far more than any bar holds, few enough to stay harmless
_LONGEST_TEXT = 4_000
_FARTHEST = 1e6  # pixels


class ReportError(RibbonbarError):
    """A report file cannot be used."""


def to_dict(report: Report) -> dict[str, Any]:
    """The report as plain values, keys in the order of the format; coordinates to 0.1 pixel."""
    result: dict[str, Any] = {
        "format": FORMAT,
        "photo": vars(report.photo).copy(),
        "outcome": report.outcome,
        "order_of_wear": report.order_of_wear,
        "bars": [_bar(bar) for bar in report.bars],
        "findings": [vars(finding) | {"positions": list(finding.positions)} for finding in report.findings],
        "proposed_order": list(report.proposed_order),
        "proposed_positions": list(report.proposed_positions),
        "to_move": list(report.to_move),
        "timing_ms": {step: _round(ms, 1) for step, ms in report.timing_ms.items()},
        "editions": list(report.editions),
        "cautions": list(CAUTIONS),
    }
    return result | ({"work_order": report.work_order} if report.work_order else {})


def to_json(report: Report, indent: int | None = None) -> str:
    """The report as JSON text in plain ASCII, without a line end; on one line unless ``indent`` is given."""
    return json.dumps(to_dict(report), indent=indent, allow_nan=False)


def _bar(bar: Bar) -> dict[str, Any]:
    return {"corners": _points(bar.corners), "rows": [[_position(position) for position in row] for row in bar.rows]}


def _position(position: Position) -> dict[str, Any]:
    return {
        "position": position.position,
        "corners": _points(position.corners),
        "status": position.status,
        "candidates": [vars(c) | {"probability": _round(c.probability, 4)} for c in position.candidates],
        "emblems": [
            {"kind": e.kind, "x": _round(e.x, 3), "y": _round(e.y, 3), "size_mm": _round(e.size_mm, 1)}
            for e in position.emblems
        ],
        "given_by_hand": position.given_by_hand,
        "seen": [[_round(number, 1) for number in lab] for lab in position.seen],
    }


def _points(corners: Corners) -> list[list[float]]:
    return [[_round(x, 1), _round(y, 1)] for x, y in corners]


def _round(number: float, digits: int) -> float:
    return round(float(number), digits)  # the stages hand on numpy's own numbers, which JSON does not know


def from_json(text: str | bytes, where: str = "report") -> Report:
    """Read one report. ``where`` names the file (and line) in the error.

    Raises ReportError for anything that is not a whole, well-formed report: nothing in it is believed unchecked, and
    keys unknown to this version are passed over.
    """
    try:
        data = json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        raise ReportError(f"{where}: not JSON ({_one_line(error)}); make the report anew") from None
    return from_dict(data, where)


def from_lines(text: str, where: str = "report") -> list[Report]:
    """Read JSON Lines, one report a line; empty lines are passed over.

    A last line without its line end was cut off while being written (the run was stopped): it is left out. Raises
    ReportError for any other line that cannot be read.
    """
    *lines, torn = text.split("\n")
    reports = [from_json(line, f"{where}: line {i}") for i, line in enumerate(lines, 1) if line.strip()]
    try:
        return [*reports, from_json(torn, where)] if torn.strip() else reports
    except ReportError:
        return reports


def from_dict(data: Any, where: str = "report") -> Report:
    """Read one report from plain values; see ``from_json``."""
    top = _Table(data, where)
    if (found := top.text("format")) != FORMAT:
        raise top.fault("format", f"{FORMAT!r} expected, found {_one_line(found)!r}")
    photo = top.table("photo")
    return Report(
        photo=Photo(
            photo.text("name"), photo.whole("width"), photo.whole("height"), photo.text("sha256", pattern=r"[0-9a-f]*")
        ),
        outcome=top.word("outcome", get_args(Outcome)),
        order_of_wear=top.text("order_of_wear", default=""),
        bars=tuple(
            Bar(
                bar.corners("corners"),
                tuple(tuple(_read_position(p) for p in row.tables("")) for row in bar.lists("rows")),
            )
            for bar in top.tables("bars")
        ),
        findings=tuple(
            Finding(
                kind=finding.word("kind", get_args(Kind)),
                positions=finding.texts("positions"),
                severity=finding.word("severity", get_args(Severity)),
                message=finding.text("message"),
                because=finding.text("because", default=""),
                source=finding.text("source", default=""),
            )
            for finding in top.tables("findings", needed=False)
        ),
        proposed_order=top.texts("proposed_order", needed=False),
        proposed_positions=top.texts("proposed_positions", needed=False),
        to_move=top.texts("to_move", needed=False),
        timing_ms=top.numbers("timing_ms"),
        editions=top.texts("editions", needed=False),
        work_order=top.text("work_order", default=""),
    )


def _read_row(row: "_Table") -> tuple[Position, ...]:
    return tuple(_read_position(position) for position in row.tables(""))


def _read_position(table: "_Table") -> Position:
    return Position(
        position=table.text("position", pattern=r"([0-9]{1,3}/)?[0-9]{1,3}\.[0-9]{1,3}"),
        corners=table.corners("corners"),
        status=table.word("status", get_args(Status)),
        candidates=tuple(
            Candidate(c.text("award"), c.text("ribbon"), c.flag("reversed"), c.number("probability", 0, 1))
            for c in table.tables("candidates", needed=False)
        ),
        emblems=tuple(
            SeenEmblem(
                e.text("kind"), e.number("x", -1, 2), e.number("y", -1, 2), e.number("size_mm", 0, 1e3, default=0.0)
            )
            for e in table.tables("emblems", needed=False)
        ),
        given_by_hand=table.flag("given_by_hand", default=False),
        seen=tuple(
            (lab.number(0, -1e3, 1e3), lab.number(1, -1e3, 1e3), lab.number(2, -1e3, 1e3))
            for lab in table.lists("seen", needed=False)
        ),
    )


_NEEDED: Any = object()


class _Table:
    """A JSON value with the path that leads to it, so that every fault names its place."""

    def __init__(self, value: Any, where: str, kind: type = dict):
        self.value, self.where = value, where
        if not isinstance(value, kind):
            raise ReportError(f"{where}: {'a table' if kind is dict else 'a list'} expected; make the report anew")

    def fault(self, key: object, what: str) -> ReportError:
        return ReportError(f"{self.where}: {key}: {what}; make the report anew")

    def _get(self, key: Any, default: Any) -> Any:
        try:
            return self.value[key]
        except (KeyError, IndexError):
            if default is _NEEDED:
                raise self.fault(key, "missing") from None
            return default

    def text(self, key: str, default: Any = _NEEDED, pattern: str = "") -> str:
        value = self._get(key, default)
        if not isinstance(value, str) or len(value) > _LONGEST_TEXT or (pattern and not re.fullmatch(pattern, value)):
            raise self.fault(key, "a short text of the right form expected")
        return value

    def word(self, key: str, allowed: tuple[str, ...]) -> Any:
        value = self._get(key, _NEEDED)
        if value not in allowed:
            raise self.fault(key, f"one of {', '.join(allowed)} expected")
        return value

    def flag(self, key: str, default: Any = _NEEDED) -> bool:
        value = self._get(key, default)
        if not isinstance(value, bool):
            raise self.fault(key, "true or false expected")
        return value

    def number(self, key: str | int, low: float, high: float, default: Any = _NEEDED) -> float:
        value = self._get(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise self.fault(key, f"a number from {low:g} to {high:g} expected")
        return float(value)

    def whole(self, key: str) -> int:
        return int(self.number(key, 0, _FARTHEST))

    def numbers(self, key: str) -> dict[str, float]:
        table = _Table(self._get(key, {}), f"{self.where}: {key}")
        return {name: table.number(name, 0, 1e12) for name in list(table.value)[:_MOST_ITEMS]}

    def _items(self, key: str, needed: bool) -> list[tuple[Any, str]]:
        """The items of a list with their paths; the value itself where ``key`` is empty."""
        where = f"{self.where}: {key}" if key else self.where
        items = _Table(self._get(key, _NEEDED if needed else []) if key else self.value, where, list).value
        if len(items) > _MOST_ITEMS:
            raise self.fault(key, f"more than {_MOST_ITEMS} entries")
        return [(item, f"{where}[{i}]") for i, item in enumerate(items)]

    def table(self, key: str) -> "_Table":
        return _Table(self._get(key, _NEEDED), f"{self.where}: {key}")

    def tables(self, key: str, needed: bool = True) -> list["_Table"]:
        return [_Table(item, where) for item, where in self._items(key, needed)]

    def lists(self, key: str, needed: bool = True) -> list["_Table"]:
        return [_Table(item, where, list) for item, where in self._items(key, needed)]

    def texts(self, key: str, needed: bool = True) -> tuple[str, ...]:
        items = self._items(key, needed)
        if not all(isinstance(item, str) and len(item) <= _LONGEST_TEXT for item, _ in items):
            raise self.fault(key, "a list of short texts expected")
        return tuple(item for item, _ in items)

    def corners(self, key: str) -> Corners:
        points = _Table(self._get(key, _NEEDED), f"{self.where}: {key}", list).lists("")
        if len(points) != 4 or any(len(point.value) != 2 for point in points):
            raise self.fault(key, "four points (x, y) expected")
        return tuple((p.number(0, -_FARTHEST, _FARTHEST), p.number(1, -_FARTHEST, _FARTHEST)) for p in points)


def _refuse_constant(word: str) -> float:
    raise ValueError(f"{word} is not a number")


def _one_line(value: object) -> str:
    return " ".join(ascii(str(value))[1:-1].split())[:120]
