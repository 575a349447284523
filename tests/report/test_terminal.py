"""The report on a terminal."""

import re

import pytest

from ribbonbar.report.model import CAUTIONS
from ribbonbar.report.terminal import render, swatch
from ribbonbar.report.text import columns
from tests.report.conftest import AWARDS

ALL = ["in_order", "out_of_order", "doubtful", "no_bar", "verified", "perhaps_wrong", "two_bars"]
_ESCAPE = re.compile(r"\x1b\[[0-9;]*m")


def test_the_outcome_comes_first(out_of_order, specification):
    """The first line is the verdict, the second its reasons."""
    first, second, *_ = render(out_of_order, specification).splitlines()
    assert first.split() == ["OUT", "OF", "ORDER", "IMG_0412.jpg"]
    assert second.strip() == "2 ribbons are in the wrong place and 1 ribbon is mounted back to front."


def test_every_ribbon_has_its_line(out_of_order, specification):
    """Position, name, how sure, and what is the matter; wrong ones are marked by a sign, not by colour."""
    lines = render(out_of_order, specification).splitlines()
    line = {p: next(x for x in lines if re.match(rf"[> ?] {p} ", x)) for p in ("1.1", "2.2", "2.3", "2.4")}
    assert re.fullmatch(r"  1\.1 +Valour Cross +sure, 99 %", line["1.1"])
    assert re.fullmatch(r"> 2\.2 +Jubilee Medal +sure, 99 %; wrong place", line["2.2"])
    assert re.fullmatch(r"> 2\.3 +Lamp Medal +fairly sure, 97 %; back to front", line["2.3"])


def test_it_says_what_to_do_and_why(out_of_order, specification):
    """The move, the reason, the source; then the bar as it should be."""
    text = " ".join(render(out_of_order, specification).split())
    assert "What to do 1. Strait Medal (2.4) must stand before Lamp Medal (2.3); its place is 2.2." in text
    assert "1 June 1960 is before 1 January 1970. (Royal warrant of Tarn, 1972 (invented))" in text
    assert "2.3: Lamp Medal is mounted back to front: turn the ribbon about." in text
    assert "2.2 Strait Medal now at 2.4 <- move" in text


def test_a_bar_in_order_asks_for_nothing(in_order, specification):
    """No list of things to do where there is nothing to do."""
    text = render(in_order, specification)
    assert text.startswith(" IN ORDER") and "What to do" not in text and "As it should be" not in text


def test_doubtful_ribbons_say_what_tells_them_apart(doubtful, specification):
    """The names that are left, how probable each is, and where to look on the cloth."""
    text = render(doubtful, specification)
    assert re.search(r"\? 2\.1 +Harbour Star or Strait Medal", text)
    assert "- Harbour Star (55 %): edges navy" in text and "- Strait Medal (43 %): edges black" in text
    assert re.search(r"\? 2\.3 +not recognised", text)
    assert "given by hand" in text


def test_no_bar_says_how_to_go_on(no_bar, specification):
    """The four corners may be given by hand."""
    assert "--corners" in render(no_bar, specification)


@pytest.mark.parametrize("name", ALL)
def test_the_cautions_are_always_there(name, request, specification):
    """No face of the report lets a photo pass for proof."""
    text = " ".join(render(request.getfixturevalue(name), specification).split())
    assert all(caution in text for caution in CAUTIONS)


@pytest.mark.parametrize("name", [*ALL, "hostile"])
@pytest.mark.parametrize("width", [10, 40, 61, 80, 200])
def test_lines_fit_the_terminal(name, width, request, hostile_specification):
    """No line is wider than the terminal (or than 40 columns, on a smaller one)."""
    for colour in (False, True):
        lines = render(request.getfixturevalue(name), hostile_specification, width, colour).splitlines()
        assert max(columns(_ESCAPE.sub("", line)) for line in lines) <= max(width, 40)


@pytest.mark.parametrize("name", ALL)
def test_colour_adds_no_word(name, request, specification):
    """What colour says, the words say too."""
    report = request.getfixturevalue(name)
    plain = render(report, specification, 110, colour=False)
    coloured = _ESCAPE.sub("", render(report, specification, 110, colour=True))
    assert "\x1b" not in plain
    assert re.sub("[·▌▀]", "", coloured).split() == plain.split()


@pytest.mark.parametrize("colour", [False, True])
def test_names_from_files_cannot_steer_the_terminal(hostile, hostile_specification, colour):
    """Escape sequences in a photo's name, an award's name or a finding are shown, not obeyed."""
    text = render(hostile, hostile_specification, 100, colour)
    text = _ESCAPE.sub("", text) if colour else text
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]", text)
    assert "�[31m" in text


def test_a_swatch_shows_each_kind_of_ribbon():
    """Ten columns of colour, whatever the pattern, back to normal at the end."""
    for award in AWARDS:
        for ribbon in award.ribbons:
            drawn = swatch(ribbon, 10)
            assert len(_ESCAPE.sub("", drawn)) == 10 and drawn.endswith("\x1b[0m")
    lamp = next(a.ribbons[0] for a in AWARDS if a.key == "tarn/lamp-medal")
    halves = [re.findall(r"38;5;(\d+);48;5;(\d+)m", swatch(lamp, 10, turned)) for turned in (False, True)]
    seen, turned = ([code for pair in pairs for code in pair] for pairs in halves)
    assert seen[0] != seen[-1] and turned == seen[::-1]
