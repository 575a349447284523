"""Text from strangers' files, made harmless; and fitted into lines."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ribbonbar.report.text import columns, counted, listed, pad, safe_text, wrap


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("\x1b[31mred\x1b[0m", "�[31mred�[0m"),
        ("\x1b]0;title\x07", "�]0;title�"),
        ("\x9b31m", "�31m"),
        ("one\r\ntwo\ttabs", "one two tabs"),
        ("gpj.\u202eexe", "gpj.�exe"),
        ("\u2066a\u2069", "�a�"),
        ("a\u2028b", "a b"),
        ("\udcff", "�"),
        ("\ufeffbom", "�bom"),
        ("Z" + "\u0335" * 30, "Z\u0335\u0335"),
        ("Médaille – “Übung” 中", "Médaille – “Übung” 中"),
        ("می\u200cخواهم", "می\u200cخواهم"),
    ],
)
def test_what_a_terminal_would_obey_is_shown_instead(written, shown):
    """Escape sequences, direction overrides and stacked marks lose their power; honest names stay as they are."""
    assert safe_text(written) == shown


@given(st.text())
def test_no_control_character_survives(text):
    """Whatever a file holds, what comes out is one printable line."""
    shown = safe_text(text)
    assert not any(unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp", "Co", "Cn") for c in shown)
    assert shown == safe_text(shown)
    shown.encode("utf-8")


def test_an_endless_name_is_cut():
    """A name of a million letters costs neither the page nor the terminal its shape."""
    assert safe_text("x" * 10**6, limit=50) == "x" * 49 + "…"
    assert len(safe_text("a\u0301" * 10**6)) <= 400


@given(st.text(alphabet="ab 中é\u0301", max_size=60), st.integers(4, 20))
def test_lines_fit_and_lose_nothing(text, width):
    """Wrapping keeps every letter and never makes a line too wide."""
    lines = wrap(text, width)
    assert all(columns(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


@given(st.text(alphabet="ab 中é\u0301", max_size=30), st.integers(2, 20))
def test_padding_gives_the_width_asked_for(text, width):
    """Columns stay in line, with wide letters too."""
    assert columns(pad(text, width)) == width


def test_lists_and_counts_read_as_a_person_says_them():
    """1 ribbon, 2 ribbons; a, b and c."""
    assert [listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"], "or")] == ["a", "a and b", "a, b or c"]
    assert [counted(1, "ribbon"), counted(2, "ribbon"), counted(2, "entry", "entries")] == [
        "1 ribbon",
        "2 ribbons",
        "2 entries",
    ]
