"""The HTML pages looked at in headless Chromium, at phone and desktop width and in print; skipped without it."""

import html
import json
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from ribbonbar.findings import Finding
from ribbonbar.report.crop import crops_of, thumbnail
from ribbonbar.report.html import Item, handover, overview, page
from tests.report.conftest import candidate, keys, position, report_on
from tests.report.pages import ON, Held, Job, crops

_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
BROWSER = next(filter(None, map(shutil.which, _NAMES)), "")
pytestmark = pytest.mark.skipif(not BROWSER, reason="no Chromium on this machine")
_QUIET = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--hide-scrollbars",
    "--no-pdf-header-footer",
)
_MEASURE = (Path(__file__).parent / "measure.js").read_text(encoding="utf-8")


def _run(folder: Path, *arguments: str) -> str:
    command = [BROWSER, *_QUIET, f"--user-data-dir={folder / 'profile'}", *arguments]
    return subprocess.run(command, capture_output=True, timeout=120, check=True).stdout.decode("utf-8", "replace")


def measured(folder: Path, text: str, widths: tuple[int, ...] = (390, 1280)) -> list[dict]:
    """What the browser finds on the page at each width."""
    frames = "".join(f'<iframe width="{w}" height="900" srcdoc="{html.escape(text)}"></iframe>' for w in widths)
    outer = folder / "outer.html"
    outer.write_text(f"<!doctype html><meta charset=utf-8><script>{_MEASURE}</script><body>{frames}", encoding="utf-8")
    told = _run(folder, "--virtual-time-budget=4000", "--dump-dom", outer.as_uri())
    return json.loads(html.unescape(re.search(r'<pre id="told">(.*?)</pre>', told, re.DOTALL)[1]))


def assert_sound(found: dict, width: int) -> None:
    assert found["width"] == width
    assert found["scrolls"] <= width and not found["out"], found["out"]
    assert not found["gone"] and not found["hollow"] and not found["small"], found
    assert found["worst"]["ratio"] >= 4.5, found["worst"]
    assert found["height"] > 500


@pytest.mark.parametrize("name", ["out_of_order", "doubtful", "no_bar", "two_bars", "hostile"])
def test_a_report_fits_phone_and_desktop(name, request, hostile_specification, specification, tmp_path):
    """No sideways scrolling, no empty part, every picture shown, every text of sufficient contrast, at both widths."""
    report = request.getfixturevalue(name)
    text = page(report, crops(report), hostile_specification if name == "hostile" else specification)
    for found, width in zip(measured(tmp_path, text), (390, 1280), strict=True):
        assert_sound(found, width)
        assert found["images"] == text.count("<img ")


def test_the_overview_fits_phone_and_desktop(
    in_order, out_of_order, doubtful, no_bar, hostile, specification, tmp_path
):
    """Cards wrap instead of sticking out."""
    items = [
        Item(r, thumbnail(crops(r)[0]) if r.bars else b"") for r in (in_order, out_of_order, doubtful, no_bar, hostile)
    ]
    for found, width in zip(measured(tmp_path, overview(items, specification)), (390, 1280), strict=True):
        assert_sound(found, width)


def test_the_handover_sheet_fits_phone_and_desktop(verified, ordered_rows, specification, tmp_path):
    """The sheet is read on a phone too."""
    text = handover(verified, crops(verified), specification, Job(rows=ordered_rows), ON)
    for found, width in zip(measured(tmp_path, text), (390, 1280), strict=True):
        assert_sound(found, width)


def test_the_security_policy_lets_the_sorting_run(in_order, specification, tmp_path):
    """The browser runs the one script that the policy names: the choice of sorting appears."""
    file = tmp_path / "overview.html"
    file.write_text(overview([Item(in_order)], specification), encoding="utf-8")
    assert '<p class="sorting">' in _run(tmp_path, "--dump-dom", file.as_uri())
    file.write_text(file.read_text(encoding="utf-8").replace('"use strict";', '"use strict"; '), encoding="utf-8")
    assert '<p class="sorting" hidden="">' in _run(tmp_path, "--dump-dom", file.as_uri()), (
        "a changed script must not run"
    )


def test_the_first_screen_shows_the_verdict_and_the_bar(out_of_order, specification, tmp_path):
    """A screenshot of the first screen holds the outcome's colour and the ribbons' own."""
    file, shot = tmp_path / "page.html", tmp_path / "shot.png"
    file.write_text(page(out_of_order, crops(out_of_order), specification), encoding="utf-8")
    for width, height in ((500, 900), (1280, 800)):  # a window is never narrower than 500
        _run(tmp_path, f"--window-size={width},{height}", f"--screenshot={shot}", file.as_uri())
        pixels = np.asarray(Image.open(shot).convert("RGB")).astype(int)
        assert pixels.shape[1] == width
        for colour in ((0xA2, 0x2A, 0x00), (0x1F, 0x2A, 0x4D), (0x2C, 0x6E, 0x49)):
            assert (np.abs(pixels - np.array(colour)).max(axis=2) <= 6).sum() > 300, colour


def _sheet(count: int, findings: int, specification) -> str:
    """A handover sheet for a bar of ``count`` ribbons, four to a row, each row ordered the other way round."""
    ids = ("valour-cross", "heron", "harbour-star", "strait-medal", "lamp-medal", "long-service")
    numbers = [(i // 4, i % 4) for i in range(count)]
    rows: list[list] = [[] for _ in range(-(-count // 4))]
    for i, (r, p) in enumerate(numbers):
        x, y = 100 + 160 * p, 100 + 50 * r
        corners = ((x, y), (x + 160, y), (x + 160, y + 50), (x, y + 50))
        place = position(1, 1, 1, candidate(ids[i % len(ids)]))
        rows[r].append(replace(place, position=f"{r + 1}.{p + 1}", corners=corners))
    found = []
    for i in range(findings):
        r, p = numbers[i % count]
        message = f"Ribbon {i} and the ribbon beside it, whose name is a long one, are swapped and want changing."
        found.append(Finding("swapped", (f"{r + 1}.{p + 1}",), "error", message, "the work order says so"))
    report = report_on(*map(tuple, rows), outcome="out-of-order", findings=tuple(found), work_order="job 1042")
    bottom = 100 + 50 * len(rows)
    outline = ((100, 100), (740, 100), (740, bottom), (100, bottom))
    report = replace(report, bars=(replace(report.bars[0], corners=outline),))
    wanted = tuple(tuple(place.candidates[0].award for place in row[::-1]) for row in rows)
    held = tuple(Held(award, ("silver rosette", "second clasp")) for award in keys(*ids))
    cut = crops_of(report, np.full((800, 1400, 3), 120, np.uint8))
    return handover(report, cut, specification, Job(rows=wanted, held=held), ON)


@pytest.mark.parametrize(("count", "findings"), [(1, 0), (12, 4), (16, 16), (30, 12), (60, 30)])
def test_the_handover_sheet_prints_on_one_page(count, findings, specification, tmp_path):
    """One A4 page, from one ribbon to more than anybody wears."""
    file, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    file.write_text(_sheet(count, findings, specification), encoding="utf-8")
    _run(tmp_path, f"--print-to-pdf={pdf}", file.as_uri())
    data = pdf.read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b", data)) == 1
    width, height = (float(v) for v in re.search(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", data).groups())
    assert (round(width * 25.4 / 72), round(height * 25.4 / 72)) == (210, 297)  # ISO 216: A4
