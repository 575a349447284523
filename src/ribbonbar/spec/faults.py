"""A fault of a specification file, said so that a person can mend it."""

import difflib
import unicodedata
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Fault:
    """One fault. ``line`` counts from 1; 0 when the file has no such line (it could not be opened).

    An ``"error"`` makes the file unusable; a ``"warning"`` leaves it usable but tells of something left out.
    """

    file: str
    table: str
    line: int
    what: str
    mend: str
    severity: Literal["error", "warning"] = "error"

    def __str__(self) -> str:
        where = ":".join(part for part in (self.file, self.table, str(self.line or "")) if part)
        return f"{where}: {'warning: ' if self.severity == 'warning' else ''}{self.what}; {self.mend}"


def unsafe_character(text: str) -> str:
    """The name of the first character that could trick a terminal or a reader (control, bidirectional override and
    other invisible marks but joiners, line or paragraph separator, surrogate, private use, noncharacter), or an empty
    string."""
    if text.isascii() and text.isprintable():
        return ""
    for character in text:
        category, code = unicodedata.category(character), ord(character)
        hidden = category in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp") and character not in _JOINERS
        if hidden or code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF:
            return f"U+{code:04X}"
    return ""


_JOINERS = "\u200c\u200d"


def shown(value: object) -> str:
    """Any value from a file, short and harmless on a terminal; texts in quotes."""
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**12:
        return "a very large number"
    if not isinstance(value, str):
        return str(value)
    text = "".join(c if c.isprintable() else "?" for c in value[:60])
    return f'"{text}…"' if len(value) > 60 else f'"{text}"'


def guess(name: str, known: Collection[str]) -> str:
    """``did you mean "…"?`` or, where nothing is near, what is known."""
    if len(known) <= 3000 and len(name) <= 100:
        near = difflib.get_close_matches(name, known, n=1, cutoff=0.6)
        if near:
            return f'did you mean "{near[0]}"?'
    few = sorted(known)[:8]
    if not few:
        return "none is defined"
    return "known are " + ", ".join(few) + (" …" if len(known) > len(few) else "")
