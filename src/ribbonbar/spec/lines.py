"""On which line of a TOML text each key stands. The standard parser does not tell; a light scan of the tokens does.

The scan expects a text that the parser has accepted. It is only run when there is a fault to report.
"""

import re

_TOKEN = re.compile(
    r'''(?P<space>[ \t\r]+|\#[^\n]*)
      | (?P<string>"""(?:[^"\\]+|\\.|"(?!""))*"{3,5}|\'\'\'(?:[^']+|'(?!''))*'{3,5}|"(?:[^"\\\n]+|\\.)*"|'[^'\n]*')
      | (?P<newline>\n)
      | (?P<mark>[][{},=.])
      | (?P<bare>[^][{},=."'\#\s]+|.)''',
    re.VERBOSE | re.DOTALL,
)

TomlPath = tuple[str | int, ...]
"""Where a value stands: ``("award", 3, "ribbon", 0, "stripes")``, array places counted from 0."""


class Lines:
    """The lines of one text, looked up by path; where a path is not found, the nearest enclosing one answers."""

    def __init__(self, text: str) -> None:
        self._line: dict[TomlPath, int] = {(): 1}
        self._tables: dict[TomlPath, int] = {}
        self._scan(text)

    def __getitem__(self, path: TomlPath) -> int:
        while path not in self._line:
            path = path[:-1]
        return self._line[path]

    def _note(self, path: TomlPath, line: int) -> None:
        for length in range(1, len(path) + 1):
            self._line.setdefault(path[:length], line)

    def _scan(self, text: str) -> None:
        line, here = 1, ()  # the table that the last header opened
        brackets, key = 0, []  # of a header being read; parts of a key being read
        value: TomlPath | None = None  # the key whose value is being read
        open_: list[_Open] = []  # arrays and inline tables that enclose the present token
        for token in _TOKEN.finditer(text):
            kind, word = token.lastgroup, token.group()
            if kind == "space":
                continue
            if kind == "newline":
                if brackets and key:
                    here = self._header(tuple(key), brackets > 1, line)
                if not open_:
                    brackets, key, value = 0, [], None
                line += 1
                continue
            if open_:
                open_[-1].take(kind, word, line, open_, self)
            elif value is not None:
                if word in ("[", "{"):
                    open_.append(_Open(value, word))
            elif word == "[" and not key:
                brackets += 1
            elif word == "=":
                value = (*here, *key)
                self._note(value, line)
            elif kind in ("string", "bare"):
                key.append(_unquoted(word))
            if kind == "string":
                line += word.count("\n")
        if brackets and key:
            self._header(tuple(key), brackets > 1, line)

    def _header(self, parts: tuple[str, ...], of_array: bool, line: int) -> TomlPath:
        path: TomlPath = ()
        for part in parts[:-1]:
            path = (*path, part)
            if path in self._tables:
                path = (*path, self._tables[path])
        path = (*path, parts[-1])
        if of_array:
            self._tables[path] = self._tables.get(path, -1) + 1
            self._note(path, line)
            path = (*path, self._tables[path])
        self._note(path, line)
        return path


class _Open:
    """An array or inline table whose closing bracket has not come yet."""

    def __init__(self, path: TomlPath, bracket: str) -> None:
        self.path, self.is_array = path, bracket == "["
        self.place, self.key, self.in_value = 0, [], False

    def take(self, kind: str, word: str, line: int, open_: list["_Open"], lines: Lines) -> None:
        if word in ("]", "}") and kind == "mark":
            open_.pop()
        elif word == "," and kind == "mark":
            self.place, self.key, self.in_value = self.place + 1, [], False
        elif self.is_array or self.in_value:
            target = (*self.path, self.place) if self.is_array else (*self.path, *self.key)
            if not self.in_value:
                lines._note(target, line)
                self.in_value = True
            if word in ("[", "{") and kind == "mark":
                open_.append(_Open(target, word))
        elif word == "=" and kind == "mark":
            lines._note((*self.path, *self.key), line)
            self.in_value = True
        elif kind in ("string", "bare"):
            self.key.append(_unquoted(word))


def _unquoted(word: str) -> str:
    return word[1:-1] if word[0] in "\"'" else word
