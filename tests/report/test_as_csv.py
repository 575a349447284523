"""Reports as a table for a spreadsheet."""

import csv
import io
from dataclasses import replace

import pytest

from ribbonbar.report.as_csv import COLUMNS, to_csv
from tests.report.conftest import candidate, position, report_on


def _read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_one_line_a_ribbon_with_the_outcome_of_its_photo(out_of_order, doubtful, specification):
    """A marshal filters by outcome and still sees which ribbon it is about."""
    lines = _read(to_csv([out_of_order, doubtful], specification))
    assert len(lines) == 12 and {line["photo"] for line in lines} == {"IMG_0412.jpg"}
    moved = next(line for line in lines if line["position"] == "2.4" and line["outcome"] == "out-of-order")
    assert (moved["name"], moved["award"], moved["should be at"]) == ("Strait Medal", "tarn/strait-medal", "2.2")
    assert moved["probability"] == "0.990" and moved["about this ribbon"].startswith("Strait Medal (2.4) must stand")
    turned = next(line for line in lines if line["name"] == "Lamp Medal")
    assert turned["back to front"] == "yes"
    either = next(line for line in lines if line["status"] == "ambiguous")
    assert either["may also be"] == "Strait Medal (0.430)"
    unknown = next(line for line in lines if line["status"] == "unidentified")
    assert (unknown["name"], unknown["probability"]) == ("", "")
    assert [line["given by hand"] for line in lines].count("yes") == 1


def test_a_photo_without_a_bar_has_its_line(no_bar):
    """No photo is lost from the table."""
    (line,) = _read(to_csv([no_bar]))
    assert (line["photo"], line["outcome"], line["position"]) == ("IMG_0412.jpg", "no-bar", "")


def test_a_missing_ribbon_has_its_line(verified, specification):
    """What the work order asks for and the bar lacks can be counted too."""
    lacking = replace(
        verified,
        proposed_order=(*verified.proposed_order, "tarn/ice-medal"),
        proposed_positions=(*verified.proposed_positions, ""),
    )
    line = _read(to_csv([lacking], specification))[-1]
    assert (line["status"], line["name"], line["should be at"]) == ("missing", "Ice Patrol Medal", "2.5")


def test_without_a_specification_the_keys_stand_alone(in_order):
    """The table can be made from reports alone."""
    line = _read(to_csv([in_order]))[0]
    assert (line["award"], line["name"], line["order of wear"]) == ("tarn/valour-cross", "", "tarn/forces")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r=", "\n@", "  =", "＝", "|", "\x00=", "%"])
def test_no_cell_is_a_formula(start, in_order):
    """A photo named =cmd|... is text in every spreadsheet."""
    named = replace(in_order, photo=replace(in_order.photo, name=f'{start}HYPERLINK("http://x";"y").jpg'))
    name = _read(to_csv([named]))[0]["photo"]
    assert name[0] in "'�" and "HYPERLINK" in name


def test_hostile_texts_stay_in_their_cells(hostile, hostile_specification):
    """Quotes, commas and line ends in names neither add columns nor lines, nor begin a formula."""
    text = to_csv([hostile], hostile_specification)
    lines = _read(text)
    assert len(lines) == 6 and text.count("\r\n") == 7 and "\n" not in text.replace("\r\n", "")
    for line in lines:
        assert set(line) == set(COLUMNS)
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in line.values())
    assert "\x1b" not in text


def test_a_number_stays_a_number():
    """Probabilities can be sorted."""
    report = report_on((position(1, 1, 1, candidate("heron", 0.5)),), outcome="unconfirmed")
    assert float(_read(to_csv([report]))[0]["probability"]) == 0.5
