"""Reading one TOML table: every getter checks what it finds, notes faults, and ``finish`` names the keys left over."""

import math
import re
from datetime import date, datetime
from typing import Any

from ribbonbar.spec.document import Document
from ribbonbar.spec.faults import shown, unsafe_character
from ribbonbar.spec.lines import TomlPath
from ribbonbar.spec.model import Interval

KEBAB = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
LONGEST_ID = 100
_A_KIND = {str: "a text in quotes", int: "a whole number", list: "a list [ … ]", dict: "a table { … }"}


class Table:
    """One table of a file. ``label`` names it for a person; a key that a getter was asked for counts as known."""

    def __init__(self, document: Document, path: TomlPath, data: dict[str, Any], label: str) -> None:
        self.document, self.path, self.data, self.label = document, path, data, label
        self._known: set[str] = set()

    def __contains__(self, key: str) -> bool:
        return key in self.data

    def fault(self, key: str | TomlPath, what: str, mend: str, *, warning: bool = False) -> None:
        path = (key,) if isinstance(key, str) else key
        self.document.fault((*self.path, *path), self.label, what, mend, warning=warning)

    def take(self, key: str, kind: type, required: bool = False) -> Any:
        """The value if it has this type, else None and, unless it may be left out, a fault."""
        self._known.add(key)
        value = self.data.get(key)
        if value is None:
            if required:
                self.fault((), f"has no {key}", f"add {key} = …")
            return None
        if not isinstance(value, kind) or isinstance(value, bool):
            self.fault(key, f"{key} is {shown(value)}", f"it must be {_A_KIND[kind]}")
            return None
        return value

    def text(self, key: str, required: bool = False, longest: int = 200) -> str:
        value = self.take(key, str, required)
        return value if value is not None and self.sound_text(key, value, longest) else ""

    def sound_text(self, key: str, value: str, longest: int = 200) -> bool:
        unsafe = unsafe_character(value)
        if not value.strip():
            self.fault(key, f"{key} is empty", "write something or leave the key out")
        elif unsafe:
            self.fault(key, f"{key} holds the control character {unsafe}", "take it out")
        elif len(value) > longest:
            self.fault(key, f"{key} is longer than {longest} characters", "shorten it")
        else:
            return True
        return False

    def ident(self, key: str = "id") -> str:
        """An id of this file's own: kebab-case. Empty when it is missing or faulty."""
        value = self.take(key, str, required=True)
        return value if value is not None and self.sound_ident(key, value) else ""

    def sound_ident(self, key: str | TomlPath, value: str) -> bool:
        if KEBAB.fullmatch(value) and len(value) <= LONGEST_ID:
            return True
        self.fault(
            key, f"{shown(value)} is no id", f"ids are kebab-case, like valour-cross, up to {LONGEST_ID} letters"
        )
        return False

    def choice(self, key: str, options: tuple[str, ...], default: str = "") -> str:
        """One of ``options``; required when there is no default."""
        value = self.take(key, str, required=not default)
        if value is None or value in options:
            return value or default
        self.fault(key, f"{key} is {shown(value)}", f"it must be one of {', '.join(options)}")
        return default

    def number(self, key: str, low: float, high: float, default: float) -> float:
        self._known.add(key)
        return self.sound_number((key,), key, self.data[key], low, high, default) if key in self.data else default

    def sound_number(self, path: TomlPath, name: str, value: Any, low: float, high: float, default: float) -> float:
        if not is_number(value):
            self.fault(path, f"{name} is {shown(value)}", "it must be a number")
        elif not low <= value <= high:  # also false for nan
            self.fault(path, f"{name} is {shown(value)}", f"it must lie between {low:g} and {high:g}")
        else:
            return float(value)
        return default

    def integer(self, key: str, low: int, high: int, default: int) -> int:
        value = self.take(key, int)
        if value is None:
            return default
        return int(self.sound_number((key,), key, value, low, high, default))

    def flag(self, key: str) -> bool:
        self._known.add(key)
        value = self.data.get(key, False)
        if not isinstance(value, bool):
            self.fault(key, f"{key} is {shown(value)}", "it must be true or false")
            return False
        return value

    def days(self) -> Interval:
        """The days from ``from`` to ``to`` of this table, both included; either may be left out, which is open."""
        start, end = self._day("from"), self._day("to")
        if not ("from" in self or "to" in self):
            self.fault((), f"{self.path[-1]} names no day", "give from = …, to = … or both, or leave it out")
        if start and end and end < start:
            what = f"{self.path[-1]} ends on {end}, before it begins on {start}"
            self.fault((), what, "exchange the dates or mend one")
            return Interval()
        return Interval(start, end)

    def _day(self, key: str) -> date | None:
        self._known.add(key)
        value = self.data.get(key)
        if value is None or (isinstance(value, date) and not isinstance(value, datetime)):
            return value
        self.fault(key, f"{key} is {shown(value)}", "it must be a day without quotes, like 1951-03-01")
        return None

    def texts(self, key: str, required: bool = False) -> list[tuple[TomlPath, str]]:
        """A list of texts, each with its path inside this table."""
        found = []
        for place, value in enumerate(self.take(key, list, required) or []):
            if isinstance(value, str):
                found.append(((key, place), value))
            else:
                self.fault((key, place), f"{key} holds {shown(value)}", "it must hold texts in quotes")
        return found

    def table(self, key: str, label: str = "") -> "Table | None":
        value = self.take(key, dict)
        return None if value is None else Table(self.document, (*self.path, key), value, label or self.label)

    def tables(self, key: str, label: str) -> list["Table"]:
        """The tables of ``[[key]]``, each labelled with its own id after ``label``, or its number when it has none."""
        found = []
        for place, value in enumerate(self.take(key, list) or []):
            if isinstance(value, dict):
                own = value.get("id")
                sound = isinstance(own, str) and len(own) <= LONGEST_ID and KEBAB.fullmatch(own)
                name = own if sound else place + 1
                found.append(Table(self.document, (*self.path, key, place), value, f"{label}{name}"))
            else:
                self.fault((key, place), f"{key} holds {shown(value)}", f"write each as a [[{key}]] table")
        return found

    def finish(self) -> None:
        """Name every key that no getter has asked for: a misspelt key would otherwise be left out without a word."""
        for key in self.data:
            if key not in self._known:
                self.fault(key, f"has the unknown key {shown(key)}", self.document.guess(key, self._known))


def is_number(value: Any) -> bool:
    """True for a finite TOML number."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return isinstance(value, int) or math.isfinite(value)
