"""The overview of many photos."""

import base64
import hashlib
import re
from dataclasses import replace

import numpy as np

from ribbonbar.report.crop import crops_of, thumbnail
from ribbonbar.report.html import Item, overview
from ribbonbar.spec.model import Specification
from tests.report.pages import Page


def _photo(report, name: str):
    return replace(report, photo=replace(report.photo, name=name))


def test_the_worst_comes_first(in_order, out_of_order, doubtful, no_bar, specification):
    """Unreadable, wrong, no bar, not confirmed, in order; among equals the order given."""
    items = [
        Item(_photo(in_order, "a.jpg")),
        Item(_photo(doubtful, "b.jpg")),
        Item(_photo(out_of_order, "c.jpg")),
        Item(_photo(no_bar, "d.jpg")),
        Item(_photo(no_bar, "e.jpg"), error="e.jpg: the file ends too early; copy it again"),
        Item(_photo(out_of_order, "f.jpg")),
    ]
    text = overview(items, specification)
    names = re.findall(r"<h2>(\w\.jpg)</h2>", text)
    assert names == ["e.jpg", "c.jpg", "f.jpg", "d.jpg", "b.jpg", "a.jpg"]
    shown = Page(text)
    assert "6 photographs of ribbon bars" in shown.text
    assert "All 6 Not readable 1 Out of order 2 No ribbon bar found 1 Not confirmed 1 In order 1" in shown.text
    assert "the file ends too early; copy it again" in shown.text
    assert "Strait Medal (2.4) must stand before Lamp Medal (2.3)" in shown.text


def test_filters_need_no_script(in_order, out_of_order, specification):
    """Each outcome has its radio button, and the style sheet hides what it leaves out; all is shown at first."""
    text = overview([Item(in_order), Item(out_of_order)], specification)
    radios = Page(text).all("input")
    assert [r["id"] for r in radios] == ["show-all", "show-out-of-order", "show-in-order"]
    assert [("checked" in r) for r in radios] == [True, False, False]
    assert "#show-in-order:checked ~ .bars > li:not(.in-order)" in text
    assert re.search(r'<p class="sorting" hidden>', text)


def test_the_one_script_is_the_one_allowed(in_order, specification):
    """The security policy names the hash of the sorting script and nothing else."""
    text = overview([Item(in_order)], specification)
    script = re.search(r"<script>(.*?)</script>", text, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in text


def test_five_hundred_photos_stay_one_sane_file(out_of_order, specification):
    """Every thumbnail at its largest: under 10 MB, made in a few seconds."""
    noise = np.random.default_rng(1).integers(0, 256, (800, 1400, 3), dtype=np.uint8)
    small = thumbnail(crops_of(out_of_order, noise)[0])
    assert len(small) > 7_000
    text = overview([Item(_photo(out_of_order, f"IMG_{i:04}.jpg"), small) for i in range(500)], specification)
    assert len(text.encode()) < 10_000_000 and text.count("<h2>IMG_") == 500


def test_an_empty_overview_is_a_page():
    """No photos: a page that says so."""
    assert "0 photographs" in Page(overview([], Specification())).text
