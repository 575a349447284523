"""Three faces of one sheet: true size, right colours, and nothing in them but the drawing.

Measures: 25.4 mm an inch (by definition), 72 PDF units an inch (ISO 32000-1, 8.3.2.3), A4 of 210 by 297 mm (ISO 216).
"""

import io
import re
import zlib
from dataclasses import replace
from datetime import date
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from ribbonbar.errors import OptionError
from ribbonbar.plan import drawing
from ribbonbar.plan.bar import plan_bar
from ribbonbar.plan.cutting import cutting_list
from ribbonbar.plan.drawing import to_pdf, to_png, to_svg
from ribbonbar.plan.layout import MARGIN_MM, Cloth, sheet
from ribbonbar.precedence.model import Held
from ribbonbar.spec.colour import lab_from_hex
from tests.plan.calder import ALL, record_of, specification

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = '</text><script>alert(1)</script>&"\x1b[31m\u202e Žluťoučký 馬 \ufffe'


@pytest.fixture
def bar(tmp_path):
    """Two rows: a plain violet ribbon of 38 mm, and a dated one with an emblem, one not drawn, one diagonal."""
    star, strait = Held(ALL[3], emblems=("rosette",)), Held(ALL[4], date(1960, 1, 1), emblems=("numeral 3",))
    record = record_of(Held(ALL[0]), star, strait, Held(ALL[5]), Held(ALL[6]))
    return plan_bar(record, specification(tmp_path))


def tall(*bars):
    return sheet(bars, cutting_list(bars))


def paged(*bars):
    return sheet(bars, cutting_list(bars), paged=True)


def first_cloth(layout) -> Cloth:
    return next(item for item in layout.pages[0].items if isinstance(item, Cloth))


def pdf_streams(data: bytes) -> str:
    """The drawing commands of a PDF, inflated."""
    found = []
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.DOTALL):
        try:
            found.append(zlib.decompress(stream).decode("latin-1"))
        except zlib.error:
            continue
    return "\n".join(found)


def test_the_svg_is_true_to_size(bar):
    """A user unit is a millimetre, and the sheet says its size in millimetres; the check line is 50 long."""
    root = ElementTree.fromstring(to_svg(tall(bar)))
    box = [float(number) for number in root.get("viewBox").split()]
    assert root.get("width") == f"{box[2]:g}mm"
    assert float(root.get("height").removesuffix("mm")) == box[3]
    lines = [line for line in root.iter(f"{SVG}line") if line.get("y1") == line.get("y2")]
    lowest = max(lines, key=lambda line: float(line.get("y1")))
    assert float(lowest.get("x2")) - float(lowest.get("x1")) == 50.0


def test_the_png_is_true_to_size_and_colour(bar):
    """At 300 dots an inch the violet ribbon is 449 pixels wide and of its dye; the resolution stands in the file."""
    layout = tall(bar)
    picture = Image.open(io.BytesIO(to_png(layout)))
    assert picture.mode == "RGB"
    assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.1)
    assert picture.width == round(210 / 25.4 * 300)
    cloth = first_cloth(layout)
    pixels = np.asarray(picture)[round((cloth.y + 5) / 25.4 * 300)].astype(int)
    violet = np.flatnonzero(np.abs(pixels - (0x74, 0x4E, 0x99)).max(axis=1) <= 2)
    assert len(violet) == pytest.approx(38 / 25.4 * 300, abs=3)
    assert violet[0] == pytest.approx(cloth.x / 25.4 * 300, abs=2)


def test_the_check_line_is_50_mm_in_the_png(bar):
    """590.6 pixels at 300 dots an inch."""
    picture = np.asarray(Image.open(io.BytesIO(to_png(tall(bar)))).convert("L"))
    foot = picture[-round(9 / 25.4 * 300) : -round(7 / 25.4 * 300), : round((MARGIN_MM + 51) / 25.4 * 300)]
    assert max((row < 128).sum() for row in foot) == pytest.approx(50 / 25.4 * 300, abs=4)


def test_the_check_line_is_50_mm_in_the_pdf(bar):
    """50 mm are 141.73 units; the page is A4 and asks the viewer not to scale it."""
    data = to_pdf(paged(bar))
    assert re.search(rb"/MediaBox \[0 0 595\.28 841\.89\]", data)
    assert b"/PrintScaling /None" in data
    number = r"(-?\d+\.?\d*)"
    lines = re.findall(rf"{number} {number} m {number} {number} l S", pdf_streams(data))
    level = [(float(y1), float(x2) - float(x1)) for x1, y1, x2, y2 in lines if y1 == y2]
    assert min(level)[1] == pytest.approx(50 / 25.4 * 72, abs=0.02)


def test_long_plans_go_over_several_pages(bar):
    """Four jobs take at least a page each; every page has the line to measure."""
    layout = paged(bar, bar, bar, bar)
    data = to_pdf(layout)
    assert len(layout.pages) >= 4
    assert data.count(b"/Type /Page\n") == len(layout.pages)


def test_the_same_plan_gives_the_same_files(bar):
    """Byte for byte, whenever it is drawn."""
    assert to_svg(tall(bar)) == to_svg(tall(bar))
    assert to_png(tall(bar)) == to_png(tall(bar))
    assert to_pdf(paged(bar)) == to_pdf(paged(bar))


def test_no_metadata_leaves_the_machine(bar):
    """No author, program, path or date of making: the PDF is of 1970, the PNG has only its resolution."""
    pdf, png = to_pdf(paged(bar)), to_png(tall(bar))
    assert b"/CreationDate (D:19700101000000Z)" in pdf
    assert not re.search(rb"/(Author|Creator|Producer|Title|Subject|Keywords)\b", pdf)
    chunks, at = [], 8
    while at < len(png):
        chunks.append(png[at + 4 : at + 8])
        at += 12 + int.from_bytes(png[at : at + 4], "big")
    assert set(chunks) == {b"IHDR", b"pHYs", b"IDAT", b"IEND"}


@pytest.mark.parametrize("letters", ["the machine's", "the built-in"])
def test_hostile_and_foreign_names_are_only_letters(bar, letters, monkeypatch):
    """Markup, escape sequences and marks that turn text get into no drawing; every alphabet is survived."""
    if letters == "the built-in":
        monkeypatch.setattr(drawing, "_font_file", lambda bold: "")
        drawing._font.cache_clear()
    ribbon = bar.rows[0][0]
    named = replace(ribbon, award=replace(ribbon.award, name=HOSTILE, abbreviation=HOSTILE))
    hostile = replace(bar, reference=HOSTILE, rows=((named,), *bar.rows[1:]))
    text = to_svg(tall(hostile))
    tags = {element.tag.removeprefix(SVG) for element in ElementTree.fromstring(text).iter()}
    assert tags == {"svg", "title", "rect", "g", "path", "line", "polygon", "text"}
    assert not set(text) & {"\x1b", "\u202e", "\ufffe"}
    assert Image.open(io.BytesIO(to_png(tall(hostile)))).width == 2480
    assert b"alert" not in to_pdf(paged(hostile))
    drawing._font.cache_clear()


def test_letters_without_a_font_for_them_are_simplified():
    """Accents go before letters do; what has no likeness is a question mark."""
    assert drawing._latin("Žluť Łódź straße – 馬", "ascii") == "Zlut Lodz strasse - ?"
    assert drawing._latin("médaille “été”", "cp1252") == "médaille “été”"


def test_an_enormous_picture_is_refused_with_a_way_out(bar):
    """The PDF has pages; the PNG would have to hold them all."""
    with pytest.raises(OptionError, match="use --pdf"):
        to_png(tall(*[bar] * 40))


def test_an_unsettled_pattern_is_left_blank(tmp_path):
    """A ribbon whose pattern is a question is an empty box that says so, in every drawing."""
    bar = plan_bar(record_of(Held("calder/order-of-the-beacon")), specification(tmp_path))
    layout = tall(bar)
    cloth = first_cloth(layout)
    assert cloth.ribbon is None
    assert "pattern to be settled" in to_svg(layout)
    picture = Image.open(io.BytesIO(to_png(layout)))
    x, y = round((cloth.x + 1) / 25.4 * 300), round((cloth.y + 1) / 25.4 * 300)
    assert lab_from_hex("#{:02x}{:02x}{:02x}".format(*picture.getpixel((x, y))))[0] > 90
    assert to_pdf(paged(bar)).startswith(b"%PDF")
