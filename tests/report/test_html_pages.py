"""What holds for every HTML page: readable aloud, safe, offline, of good contrast."""

import base64
import io
import re
import warnings
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from ribbonbar.report.as_csv import to_csv
from ribbonbar.report.crop import crops_of
from ribbonbar.report.html import page
from ribbonbar.report.model import CAUTIONS
from ribbonbar.report.picture import annotate
from ribbonbar.report.terminal import render
from tests.report.pages import ALL, Page, crops, every_page


@pytest.fixture(params=ALL)
def any_report(request):
    return request.getfixturevalue(request.param)


def test_pages_are_well_formed_and_readable_aloud(any_report, specification):
    """Language, title, one h1, headings without a gap, an alternative text for every picture, no repeated id."""
    for text in every_page(any_report, specification):
        shown = Page(text)
        assert shown.all("html")[0]["lang"] == "en" and "<title>" in text
        levels = [int(tag[1]) for tag, _ in shown.tags if re.fullmatch("h[1-6]", tag)]
        assert levels[0] == 1 and levels.count(1) == 1
        assert all(after - before <= 1 for before, after in pairwise(levels))
        assert all((image.get("alt") or "").strip() for image in shown.all("img"))
        assert all(svg["aria-hidden"] == "true" for svg in shown.all("svg"))
        ids = Counter(attributes["id"] for _, attributes in shown.tags if "id" in attributes)
        assert not [i for i, n in ids.items() if n > 1]
        anchors = [a["href"][1:] for a in shown.all("a") if a["href"].startswith("#")]
        assert set(anchors) <= set(ids)
        labelled = {label.get("for") for label in shown.all("label")}
        assert {i["id"] for i in shown.all("input")} <= labelled


def test_the_cautions_are_on_every_page(any_report, specification):
    """No page lets a photograph pass for proof."""
    for text in every_page(any_report, specification):
        assert all(caution in Page(text).text for caution in CAUTIONS)


def test_nothing_is_loaded_from_anywhere(any_report, specification):
    """Pages work offline and tell nobody that they are read: no address but data, links only where a reader clicks."""
    for text in every_page(any_report, specification):
        shown = Page(text)
        for tag, attributes in shown.tags:
            assert tag not in ("link", "iframe", "object", "embed", "base", "form", "audio", "video")
            for name, value in attributes.items():
                if name in ("src", "data", "srcset", "poster", "background"):
                    assert value.startswith("data:image/"), value
                if name in ("href", "xlink:href"):
                    assert tag == "a" and re.match(r"https?://|#", value), value
        assert "url(" not in text and "@import" not in text
        policy = next(m["content"] for m in shown.all("meta") if m.get("http-equiv") == "Content-Security-Policy")
        assert policy.startswith("default-src 'none'; img-src data:")


def test_hostile_texts_stay_text(hostile, hostile_specification):
    """Markup in the name of a photo, an award, an emblem, a source, a finding is shown, not run."""
    for text in every_page(hostile, hostile_specification):
        shown = Page(text)
        assert "<script>alert(1)</script>" in shown.text, "the attack must arrive at the page to be tested"
        scripts = shown.all("script")
        assert text.count("<script") == len(scripts) <= 1
        assert not [a for _, a in shown.tags if any(name.startswith("on") for name in a)]
        assert not [image for image in shown.all("img") if not image["src"].startswith("data:image/")]
        assert "javascript:" not in text and "\x1b" not in text and "\u202e" not in text
        assert text.encode("utf-8")


def test_drawings_hold_nothing_but_shapes(hostile, hostile_specification):
    """The SVG inside the pages comes from numbers alone; no name gets into it."""
    for text in every_page(hostile, hostile_specification):
        for coded in re.findall(r"data:image/svg\+xml;base64,([A-Za-z0-9+/=]+)", text):
            drawing = base64.b64decode(coded).decode()
            assert re.fullmatch(r"[^<]*(<(svg|/svg|g|/g|path|rect)\b[^<>]*>)+", drawing)
            assert "alert" not in drawing and "href" not in drawing


def test_only_the_crop_of_the_photo_is_embedded(out_of_order, specification):
    """No JPEG in the page shows the rest of the picture, and none carries metadata."""
    text = page(out_of_order, crops(out_of_order), specification)
    coded = re.findall(r"data:image/jpeg;base64,([A-Za-z0-9+/=]+)", text)
    assert len(coded) == 7
    for data in map(base64.b64decode, coded):
        image = Image.open(io.BytesIO(data))
        assert not image.getexif() and "comment" not in image.info and "icc_profile" not in image.info
        pixels = np.asarray(image).astype(int)
        assert not ((pixels[..., 0] > 225) & (pixels[..., 1] < 40)).any()


def test_the_same_report_gives_the_same_page(out_of_order, specification):
    """Same in, same out: no clock, no chance."""
    assert every_page(out_of_order, specification) == every_page(out_of_order, specification)


_numbers = st.floats(-2e6, 2e6) | st.sampled_from([0.0, 212.0, 1188.0, 1e-300, 1e300])
_points = st.tuples(*[st.tuples(_numbers, _numbers)] * 4)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(_points, _points, st.text(max_size=30))
def test_wild_corners_and_names_never_break_a_page(out_of_order, specification, bar, ribbon, name):
    """Whatever stands in a report, pages and picture are made, without a warning."""
    pixels = np.full((800, 1400, 3), 90, np.uint8)
    first = out_of_order.bars[0]
    place = replace(first.rows[0][0], corners=ribbon)
    rows = ((place, *first.rows[0][1:]), *first.rows[1:])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for corners in (bar, first.corners):
            wild = replace(
                out_of_order,
                photo=replace(out_of_order.photo, name=name),
                bars=(replace(first, corners=corners, rows=rows),),
            )
            cut = crops_of(wild, pixels, width=200)
            Page(page(wild, cut, specification))
            annotate(wild, pixels, specification)
            render(wild, specification)
            to_csv([wild], specification)


def test_every_pair_of_colours_in_the_style_sheet_can_be_read(out_of_order, specification):
    """WCAG 2.2, success criterion 1.4.3: text and background differ by at least 4.5 to 1."""
    for text in every_page(out_of_order, specification):
        style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)[1]
        values = dict(re.findall(r"(--[\w-]+): (#[0-9a-f]{6});", style))
        tones = [values[f"--{o}"] for o in ("in-order", "out-of-order", "unconfirmed", "no-bar")]
        grounds = [values["--paper"], values["--panel"]]
        rules = re.findall(r"\{([^{}]*)\}", style)
        checked = 0
        for rule in rules:
            declared = dict(re.findall(r"(?<![\w-])(color|background): ([^;]+)", rule))
            if "color" not in declared and "background" not in declared:
                continue
            colours = tones if declared.get("color") == "var(--tone)" else [_hex(declared.get("color"), values)]
            against = [_hex(declared["background"], values)] if "background" in declared else grounds
            for colour in colours:
                for ground in against:
                    assert _contrast(colour, ground) >= 4.5, (rule, colour, ground)
                    checked += 1
        assert checked > 20


def _hex(value: str | None, values: dict[str, str]) -> str:
    value = (value or "var(--ink)").strip()
    if value in ("inherit", "currentColor"):
        return values["--ink"]
    name = re.fullmatch(r"var\((--[\w-]+)\)", value)
    return values[name[1]] if name else value


def _contrast(a: str, b: str) -> float:
    """WCAG 2.2, definitions of relative luminance and contrast ratio."""

    def luminance(colour: str) -> float:
        channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    dark, light = sorted((luminance(a), luminance(b)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_measured_as_the_standard_says():
    """WCAG 2.2: black on white is 21 to 1; #767676 is the lightest grey that passes 4.5 on white (from memory)."""
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)
    assert _contrast("#767676", "#ffffff") >= 4.5 > _contrast("#777777", "#ffffff")
