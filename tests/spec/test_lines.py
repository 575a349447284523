"""A fault is reported on the line where its key really stands, however the file is laid out."""

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from ribbonbar.spec.lines import Lines

_bare = st.from_regex(r"[a-z][a-z0-9_-]{0,6}", fullmatch=True)
_scalars = st.sampled_from(
    [
        *("1", "-2.5e3", "1_000", "true", "nan", "1951-03-01"),
        *('"plain"', '"# no [comment] = {,}"', "'it \"is\"'", '"\\"]"', '""'),
        *('"""two\nlines ] [ # = """', "'''three\n\n\"lines'''", '"""ends in quotes """""', '"""\n\n"""'),
    ]
)


class _Writer:
    """Writes nested data as TOML in a layout that hypothesis chooses and notes the line of each path."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw, self.text, self.lines = draw, "", {}

    def put(self, part: str) -> None:
        self.text += part

    def note(self, path: tuple) -> None:
        self.lines[path] = self.text.count("\n") + 1

    def gap(self) -> None:
        self.put(self.draw(st.sampled_from(["", " ", "\n", '# a note [[x]] "\n', "\n\n  "])))

    def value(self, path: tuple, depth: int = 0) -> None:
        kind = self.draw(st.sampled_from(["scalar"] * 4 + (["list", "table"] if depth < 3 else [])))
        if kind == "scalar":
            self.put(self.draw(_scalars))
        elif kind == "list":
            self.put("[")
            for place in range(self.draw(st.integers(0, 3))):
                self.gap()
                self.note((*path, place))
                self.value((*path, place), depth + 1)
                self.gap()
                self.put(",")
            self.gap()
            self.put("]")
        else:
            self.put("{ ")
            for place, key in enumerate(self.draw(st.lists(_bare, max_size=3, unique=True))):
                self.put(", " if place else "")
                self.note((*path, key))
                self.put(f"{key} = ")
                self.value((*path, key), depth + 1)
            self.put(" }")

    def body(self, path: tuple) -> None:
        for key in self.draw(st.lists(_bare, max_size=3, unique=True)):
            self.note((*path, key))
            self.put(self.draw(st.sampled_from([f"{key} = ", f'"{key}"=', f"  '{key}'  =\t"])))
            self.value((*path, key))
            self.put(self.draw(st.sampled_from(["\n", " # [note]\n", "\n\n"])))


@st.composite
def _documents(draw: st.DrawFn) -> tuple[str, dict]:
    writer = _Writer(draw)
    writer.body(())
    for table in draw(st.lists(st.sampled_from(["Award", "Order"]), max_size=3, unique=True)):
        for place in range(draw(st.integers(1, 3))):
            writer.note((table, place))
            writer.put(f"[[{table}]]\n")
            writer.body((table, place))
            for inner in range(draw(st.integers(0, 2))):
                writer.note((table, place, "Ribbon", inner))
                writer.put(draw(st.sampled_from([f"[[{table}.Ribbon]]\n", f'  [[ {table} . "Ribbon" ]] # x\n'])))
                writer.body((table, place, "Ribbon", inner))
    writer.note(("Colours",))
    writer.put("[Colours]\n")
    writer.body(("Colours",))
    return writer.text, writer.lines


@settings(max_examples=200, deadline=None)
@given(_documents())
def test_every_path_is_found_on_its_line(document: tuple[str, dict]) -> None:
    """In headers, inline tables and lists of any layout, between comments and texts of several lines."""
    text, lines = document
    tomllib.loads(text)
    found = Lines(text)
    assert {path: found[path] for path in lines} == lines


def test_a_path_that_is_not_there_answers_with_what_encloses_it() -> None:
    """A missing key is reported at its table, a missing table at the first line."""
    found = Lines("a = 1\n\n[[award]]\nid = 2\n")
    assert found["award", 0, "name"] == 3
    assert found["rule", 7, "kind"] == 1
