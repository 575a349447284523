"""Opening one specification file safely: size, encoding, TOML syntax, format."""

import hashlib
import re
import tomllib
from functools import cached_property
from pathlib import Path
from typing import Any

from ribbonbar.spec.faults import Fault, guess, shown
from ribbonbar.spec.lines import Lines, TomlPath

FORMAT = "ribbon-spec/1"
MOST_BYTES = 8_000_000
MOST_FAULTS = 500
# Dotted keys cost the parser the square of their depth, in time and memory; no specification needs more than three.
_DEEP_KEY = re.compile(r"""(?:\.[ \t]*+(?:[\w-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')[ \t]*+){32}""")
_SYNTAX_PLACE = re.compile(r"^(.*?) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.DOTALL)
_NUMBER_OF_SUGGESTIONS = 20


class Document:
    """One file: its data as TOML gives it, and the faults found in it so far."""

    def __init__(self, path: Path) -> None:
        self.name = "".join(c if c.isprintable() else "?" for c in str(path))
        self.text = ""
        self.data: dict[str, Any] = {}
        self.edition = ""
        """The file's name and the first twelve digits of its SHA-256."""
        self.faults: list[Fault] = []
        self.usable = False
        self._open(path)

    @cached_property
    def lines(self) -> Lines:
        return Lines(self.text)

    def fault(self, path: TomlPath, table: str, what: str, mend: str, *, warning: bool = False) -> None:
        """Note a fault at the line of ``path``. Beyond ``MOST_FAULTS`` only the fact that there are more is kept."""
        if len(self.faults) < MOST_FAULTS:
            line = self.lines[path]
            self.faults.append(Fault(self.name, table, line, what, mend, "warning" if warning else "error"))
        elif len(self.faults) == MOST_FAULTS:
            self._refuse(f"has more than {MOST_FAULTS} faults", "mend the first ones and check again")

    def guess(self, name: str, known: Any) -> str:
        """A suggestion of what was meant; the search for near names is slow, so only the first faults get one."""
        return guess(name, known) if len(self.faults) < _NUMBER_OF_SUGGESTIONS else "see the names defined"

    def _refuse(self, what: str, mend: str, line: int = 0) -> None:
        self.faults.append(Fault(self.name, "", line, what, mend))

    def _open(self, path: Path) -> None:
        data = self._read(path)
        if data is None:
            return
        try:
            self.text = data.decode("utf-8").replace("\r\n", "\n")
        except UnicodeDecodeError as error:
            line = data.count(b"\n", 0, error.start) + 1
            self._refuse("is not UTF-8 text", "save it as UTF-8, or give a specification file (.toml)", line)
            return
        self.edition = f"{path.name} {hashlib.sha256(data).hexdigest()[:12]}"
        if self._parse():
            self._look_at_format()

    def _read(self, path: Path) -> bytes | None:
        try:
            if not path.is_file():
                self._refuse("is not a file", "give a specification file (.toml) or a folder of them")
                return None
            with path.open("rb") as file:
                data = file.read(MOST_BYTES + 1)
        except OSError as error:
            self._refuse(f"cannot be read ({error.strerror or error})", "give a file that can be read")
            return None
        if len(data) > MOST_BYTES:
            self._refuse(f"is larger than {MOST_BYTES // 1_000_000} MB", "split it into several files")
            return None
        return data

    def _parse(self) -> bool:
        deep = _DEEP_KEY.search(self.text)
        if deep:
            line = self.text.count("\n", 0, deep.start()) + 1
            self._refuse("names a key too many levels deep", "use the tables of the format", line)
            return False
        try:
            self.data = tomllib.loads(self.text)
        except RecursionError:
            self._refuse("nests brackets too deeply", "use the tables of the format")
        except ValueError as error:  # TOMLDecodeError, and numbers or dates that Python cannot hold
            place = _SYNTAX_PLACE.match(str(error))
            what = place[1] if place else str(error)
            line = int(place[2]) if place and place[2] else self.text.count("\n") + 1 if place else 0
            self._refuse(f"is not valid TOML: {_printable(what)}", "mend the text at this line", line)
        else:
            return True
        return False

    def _look_at_format(self) -> None:
        found = self.data.pop("format", None)
        if found == FORMAT:
            self.usable = True
            return
        what = "has no format line" if found is None else f"is in the unknown format {shown(found)}"
        self.fault(("format",), "", what, f'a specification begins with format = "{FORMAT}"')


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)[:200]
