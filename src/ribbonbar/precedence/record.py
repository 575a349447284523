"""Reading a wearer's record or a work order (``ribbon-record/1``, TOML)."""

import re
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

from ribbonbar.errors import OptionError, RecordError
from ribbonbar.precedence.model import Held, Record
from ribbonbar.precedence.names import Names, harmless, is_unsafe
from ribbonbar.spec.model import OrderOfWear, Specification

FORMAT = "ribbon-record/1"
MOST_BYTES = 1_000_000
MOST_AWARDS = 500
"""More than anybody ever held; it keeps a hostile file from taking hours."""
_KEYS = ("format", "reference", "order_of_wear", "rows", "held")
_HELD_KEYS = ("award", "date", "division", "emblems")
_AT_LINE = re.compile(r"^(.*?) \(at (?:line (\d+), column \d+|end of document)\)$", re.DOTALL)
# Dotted keys cost the parser the square of their depth; a record has none deeper than one.
_DEEP_KEY = re.compile(r"""(?<![\w"'-])["']?[\w-]++["']?(?:[ \t]*+\.[ \t]*+["']?[\w-]++["']?){16}""")


def read_record(path: Path, specification: Specification) -> Record:
    """Read a record or work order; awards and the order of wear come back as keys of the specification.

    Raises ``RecordError`` in one line (file, table, line, what is wrong, what to do) for everything that is not a
    record; nothing else is ever raised for a file's contents.
    """
    return _Reader(path, specification).record()


class _Reader:
    """One file while it is read: where we are, so that a fault can say its place."""

    def __init__(self, path: Path, specification: Specification) -> None:
        self.path, self.names = path, Names(specification)
        self.text = self._text()
        self.data = self._data()

    def record(self) -> Record:
        found = self.data.get("format")
        if found != FORMAT:
            what = "there is no format line" if found is None else f"the format is {harmless(found)}"
            self.fail("", "format", f'{what}; a record begins with format = "{FORMAT}"')
        self._known_keys(self.data, _KEYS, "", None)
        reference = self._string(self.data, "reference", "", None)
        order = self._order()
        held = self._held(order)
        rows = self._rows(order)
        if not held and not rows:
            self.fail("", "held", "it names no award; add a [[held]] table for each award")
        return Record(reference, order.key if order else "", rows, held)

    def fail(self, table: str, key: str, what: str, place: int | None = None) -> None:
        """Raise the one-line error; ``place`` is which ``[[held]]`` table, from 0."""
        line = self._line(key, place)
        where = ", ".join(part for part in (table, f"line {line}" if line else "") if part)
        raise RecordError(f"{harmless(self.path.name)[1:-1]}{f', {where}' if where else ''}: {what}")

    def _text(self) -> str:
        name = harmless(self.path.name)[1:-1]
        try:
            if not self.path.is_file():
                raise RecordError(f"{name}: there is no such file; give a record or work order (.toml)")
            with self.path.open("rb") as file:
                data = file.read(MOST_BYTES + 1)
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or "its name is no file name"
            raise RecordError(f"{name}: it cannot be read ({why}); give a file that can be read") from None
        if len(data) > MOST_BYTES:
            raise RecordError(f"{name}: it is larger than {MOST_BYTES // 1_000_000} MB, so it is no record")
        try:
            return data.decode("utf-8-sig").replace("\r\n", "\n")
        except UnicodeDecodeError as error:
            line = data.count(b"\n", 0, error.start) + 1
            raise RecordError(f"{name}, line {line}: it is not UTF-8 text; save it as UTF-8") from None

    def _data(self) -> dict[str, Any]:
        name = harmless(self.path.name)[1:-1]
        if _DEEP_KEY.search(self.text):
            raise RecordError(f"{name}: it nests too deeply to be a record")
        try:
            return tomllib.loads(self.text)
        except (RecursionError, MemoryError):
            raise RecordError(f"{name}: it nests too deeply to be a record") from None
        except ValueError as error:  # TOMLDecodeError, and numbers or dates that Python cannot hold
            place = _AT_LINE.match(str(error))
            at = (place[2] or self.text.rstrip().count("\n") + 1) if place else ""
            line = f", line {at}" if at else ""
            what = harmless(place[1] if place else error)[1:-1]
            raise RecordError(f"{name}{line}: it is not valid TOML ({what}); mend the text there") from None

    def _order(self) -> OrderOfWear | None:
        wanted = self._string(self.data, "order_of_wear", "", None)
        if not wanted:
            return None
        try:
            return self.names.order(wanted)
        except OptionError as error:
            return self.fail("", "order_of_wear", str(error))

    def _held(self, order: OrderOfWear | None) -> tuple[Held, ...]:
        tables = self.data.get("held", [])
        if not isinstance(tables, list) or not all(isinstance(each, dict) for each in tables):
            self.fail("", "held", "held must be tables; write [[held]] above each award")
        if len(tables) > MOST_AWARDS:
            self.fail("", "held", f"it names more than {MOST_AWARDS} awards, so it is no record", MOST_AWARDS)
        return tuple(self._one(table, place, order) for place, table in enumerate(tables))

    def _one(self, table: dict[str, Any], place: int, order: OrderOfWear | None) -> Held:
        title = f"[[held]] {place + 1}"
        self._known_keys(table, _HELD_KEYS, title, place)
        name = self._string(table, "award", title, place)
        if not name:
            self.fail(title, "award", 'it names no award; add award = "…"', place)
        when = table.get("date")
        if when is not None and type(when) is not date:
            self.fail(title, "date", f"{harmless(when)} is not a date; write date = 1952-04-01, without quotes", place)
        emblems = table.get("emblems", [])
        if not isinstance(emblems, list) or not all(isinstance(each, str) for each in emblems):
            self.fail(title, "emblems", 'emblems must be a list of names, as in emblems = ["rosette"]', place)
        for each in emblems:
            self._safe(each, "emblems", title, place)
        return Held(
            self._award(name, order, title, "award", place),
            when,
            self._string(table, "division", title, place),
            tuple(emblems),
        )

    def _rows(self, order: OrderOfWear | None) -> tuple[tuple[str, ...], ...]:
        rows = self.data.get("rows", [])
        lists = isinstance(rows, list) and all(isinstance(row, list) and row for row in rows)
        if not lists or not all(isinstance(name, str) for row in rows for name in row):
            self.fail("", "rows", 'rows must be lists of awards, top row first, as in rows = [["A"], ["B", "C"]]')
        if sum(map(len, rows)) > MOST_AWARDS:
            self.fail("", "rows", f"it names more than {MOST_AWARDS} awards, so it is no record")
        return tuple(tuple(self._award(name, order, "", "rows", None) for name in row) for row in rows)

    def _award(self, name: str, order: OrderOfWear | None, table: str, key: str, place: int | None) -> str:
        self._safe(name, key, table, place)
        try:
            return self.names.award(name, order)
        except OptionError as error:
            return self.fail(table, key, str(error), place)

    def _string(self, table: dict[str, Any], key: str, title: str, place: int | None) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            self.fail(title, key, f'{key} must be a text in quotes, as in {key} = "…"', place)
        return self._safe(value, key, title, place)

    def _safe(self, value: str, key: str, title: str, place: int | None) -> str:
        if any(map(is_unsafe, value)):
            self.fail(title, key, f"{key} holds a hidden or control character; write plain text", place)
        return value

    def _known_keys(self, table: dict[str, Any], known: tuple[str, ...], title: str, place: int | None) -> None:
        for key in table:
            if key not in known:
                self.fail(title, key, f"{harmless(key)} is not known here; known are {', '.join(known)}", place)

    def _line(self, key: str, place: int | None) -> int:
        """The line of a key in the ``place``-th ``[[held]]`` table (or above them all), else of the table, else 0."""
        lines = self.text.split("\n")
        heads = [n for n, line in enumerate(lines) if re.match(r"\s*\[\[\s*[\"']?held[\"']?\s*\]\]", line)]
        start, end = 0, heads[0] if heads else len(lines)
        if place is not None and place < len(heads):
            start, end = heads[place], heads[place + 1] if place + 1 < len(heads) else len(lines)
        of_key = re.compile(rf"\s*(?:[\"']?{re.escape(key)}[\"']?\s*=|\[\s*{re.escape(key)}\s*\])")
        for number in range(start, end):
            if of_key.match(lines[number]):
                return number + 1
        if place is None:
            return 0
        return start + 1 if heads else self._line("held", None)
