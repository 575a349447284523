"""Measuring a ribbon on a photograph: given this bar, expect these stripes and colours.

The truth of the sample photographs is the pattern that was woven (``sample_images/*.json`` name it); a piece's dyes are
a lot of their own there, CIEDE2000 2 to 5 off what is specified, so that no colour can be asked for more closely.
"""

import json
import tomllib
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from ribbonbar.audit import load_catalogue
from ribbonbar.draft_text import as_award, as_file, summary
from ribbonbar.drafting import DraftedRibbon, Drafts, draft, draft_from_file
from ribbonbar.errors import OptionError, PhotoError
from ribbonbar.photo.opening import open_photo
from ribbonbar.reading.observe import root
from ribbonbar.reading.stripes import measure
from ribbonbar.reading.templates import COLUMNS, blurred
from ribbonbar.spec.colour import ciede2000, linear_from_lab
from ribbonbar.spec.draw import weave
from ribbonbar.spec.model import Colour, Ribbon, Stripe
from ribbonbar.spec.reader import check, read_specification
from tests.cli.desk import LORRANDY, SAMPLES
from tests.reading.cloth import GOLD, GREEN, NAVY, RED, SKY, WHITE, ribbon, stripes
from tests.simulator.catalogue import invent_unknown

LOT = 10.0
"""CIEDE2000 asked of a colour: 5 for the piece's own dye lot, 5 for the light, known from three neighbours."""
MM = COLUMNS / 32


@cache
def drafts(name: str, everything: bool = False) -> Drafts:
    picture = open_photo(SAMPLES / f"{name}.jpg")
    return draft(picture, load_catalogue([LORRANDY]), whole_bar=everything)


def widths(drafted: DraftedRibbon) -> list[float]:
    return [width for _, _, width in drafted.stripes]


def specified(position: str, name: str) -> Ribbon:
    """The first ribbon of the award that the sample truly has there."""
    truth = json.loads((SAMPLES / f"{name}.json").read_text())
    award = next(r["award"] for bar in truth["bars"] for r in bar["ribbons"] if r["position"] == position)
    return read_specification([LORRANDY]).awards[award].ribbons[0]


def test_the_unknown_ribbon_of_the_sample_is_measured() -> None:
    """Gold shading to white over 26 mm, then 6 mm of brown: found so, the colours within a dye lot and the light."""
    (drafted,) = drafts("unknown").ribbons
    truth = invent_unknown(np.random.default_rng(41), read_specification([LORRANDY]), near=False)
    assert drafted.position == "1.2"
    assert drafted.width_mm == 32.0
    assert widths(drafted) == pytest.approx([s.width for s in truth.stripes], abs=0.6)
    for (left, right, _), stripe in zip(drafted.stripes, truth.stripes, strict=True):
        assert ciede2000(drafted.dyes[left].lab, stripe.start.lab) < LOT
        assert ciede2000(drafted.dyes[right].lab, stripe.end.lab) < LOT


@pytest.mark.parametrize("position", ["1.1", "1.3", "1.4"])
def test_known_ribbons_come_out_as_specified(position: str) -> None:
    """Measured as if unknown, each known ribbon of the bar gets its own stripes back, in the same few dyes."""
    drafted = next(r for r in drafts("unknown", True).ribbons if r.position == position)
    truth = specified(position, "unknown")
    assert widths(drafted) == pytest.approx([s.width for s in truth.stripes], abs=0.9)
    assert len(drafted.dyes) == len({s.start.name for s in truth.stripes})
    assert any("symmetrical" in note for note in drafted.notes)
    for (dye, _, _), stripe in zip(drafted.stripes, truth.stripes, strict=True):
        assert ciede2000(drafted.dyes[dye].lab, stripe.start.lab) < LOT


def test_the_stated_doubt_covers_the_error() -> None:
    """L*, a* and b* of the bar's dyes lie within three of their standard deviations of what is specified."""
    for drafted in drafts("unknown", True).ribbons:
        if drafted.position == "1.2":
            continue
        for (dye, _, _), stripe in zip(drafted.stripes, specified(drafted.position, "unknown").stripes, strict=True):
            off = (drafted.dyes[dye].lab - np.array(stripe.start.lab)) / drafted.dyes[dye].spread
            assert np.abs(off).max() < 3.0
            assert drafted.dyes[dye].spread.max() < 15.0


def test_a_diagonal_ribbon_is_refused_in_a_line() -> None:
    """The diagonal flying decoration cannot be written as upright stripes: said so, and the other ribbons drafted."""
    found = drafts("three-rows", True)
    assert [position for position, _ in found.refused] == ["1.3"]
    assert specified("1.3", "three-rows").shape == "diagonal"
    assert len(found.ribbons) == 10
    assert sum("1.3: no draft: its pattern changes from top to bottom" in line for line in summary(found)) == 1
    with pytest.raises(OptionError, match=r"three-rows.jpg, position 1\.3: its pattern changes"):
        draft_from_file(SAMPLES / "three-rows.jpg", [LORRANDY], positions=["1.3"])


NOBODY = """
format = "ribbon-spec/1"
[authority]
id = "elsewhere"
title = "Elsewhere (invented)"
[colours]
black = { srgb = "#101010", certainty = "memory" }
green = { srgb = "#00ff40", certainty = "memory" }
[[award]]
id = "a"
name = "A"
[[award.ribbon]]
id = "standard"
certainty = "memory"
stripes = [["black", 4], ["green", 1], ["black", 4], ["green", 1], ["black", 4], ["green", 4], ["black", 1]]
[[award]]
id = "b"
name = "B"
[[award.ribbon]]
id = "standard"
certainty = "memory"
diagonal = { stripes = [["black", 2], ["green", 2]], angle = 45 }
"""


def test_without_a_known_neighbour_the_colours_are_said_to_be_a_guess(tmp_path: Path) -> None:
    """A catalogue that has none of the bar's ribbons: the bar lies by itself and is found all the same, but the doubt
    is wider; where none is found, corners are asked for."""
    other = tmp_path / "elsewhere.toml"
    other.write_text(NOBODY)
    found = draft_from_file(SAMPLES / "unknown.jpg", [other], positions=["1.2"]).ribbons[0]
    assert any("no ribbon beside it is known" in note for note in found.notes)
    bare = tmp_path / "bare.png"
    Image.new("RGB", (640, 480), (60, 70, 60)).save(bare)
    with pytest.raises(PhotoError, match="--corners"):
        draft_from_file(bare, [other])
    corners = "330,416 1617,505 1611,604 322,519"
    alone = draft_from_file(SAMPLES / "unknown.jpg", [other], corners=corners, positions=["1.2"]).ribbons[0]
    assert any("no ribbon beside it is known" in note for note in alone.notes)
    assert any("height of 10 mm" in note for note in alone.notes)
    assert min(dye.spread[0] for dye in alone.dyes) > max(d.spread[0] for d in drafts("unknown").ribbons[0].dyes)
    assert sum(widths(alone)) == pytest.approx(alone.width_mm)
    taller = draft_from_file(SAMPLES / "unknown.jpg", [other], corners, ["1.2"], height_mm=12.0).ribbons[0]
    assert taller.width_mm == pytest.approx(1.2 * alone.width_mm, abs=0.1)


def test_nothing_to_draft_and_options_that_do_not_fit() -> None:
    """Every refusal is a line that says what to do."""
    with pytest.raises(OptionError, match="every ribbon is known; say which to draft with --position"):
        draft_from_file(SAMPLES / "in-order.jpg", [LORRANDY])
    with pytest.raises(OptionError, match=r"--position 7\.1: not on this picture, which has 1\.1 to 1\.4"):
        draft_from_file(SAMPLES / "unknown.jpg", [LORRANDY], positions=["7.1"])
    with pytest.raises(OptionError, match="give one of them"):
        draft_from_file(SAMPLES / "unknown.jpg", [LORRANDY], positions=["1.2"], whole_bar=True)
    with pytest.raises(OptionError, match="--height-mm nan"):
        draft_from_file(SAMPLES / "unknown.jpg", [LORRANDY], height_mm=float("nan"))


def test_the_draft_file_is_sound(tmp_path: Path) -> None:
    """``spec check`` has nothing to say, and the file reads back as what was measured, sourced to the photograph."""
    found = drafts("unknown", True)
    file = tmp_path / "draft.toml"
    file.write_text(as_file(found))
    assert check([file]) == ()
    specification = read_specification([file])
    assert [s.title for s in specification.sources.values()] == ["Measured on the photograph unknown.jpg"]
    for drafted in found.ribbons:
        award = specification.awards[f"draft/unknown-{drafted.position.replace('.', '-')}"]
        assert award.ribbons[0].certainty == "derived"
        assert award.ribbons[0].width_mm == drafted.width_mm
        assert [s.width for s in award.ribbons[0].stripes] == widths(drafted)


def test_the_draft_can_be_pasted_into_a_file(tmp_path: Path) -> None:
    """The tables alone, put below another authority's, leave a sound file that holds both."""
    file = tmp_path / "elsewhere.toml"
    file.write_text(NOBODY + as_award(drafts("unknown")))
    assert check([file]) == ()
    assert set(read_specification([file]).awards) == {"elsewhere/a", "elsewhere/b", "elsewhere/unknown-1-2"}


def test_a_photograph_with_a_hostile_name_stays_within_its_string() -> None:
    """Quotes and line ends in a file's name are text, not TOML."""
    found = Drafts('x"]\n[[award]]\nid = "y\u202e\x7f.jpg', drafts("unknown").ribbons, ())
    value = tomllib.loads(as_file(found))
    assert len(value["award"]) == 1
    assert "\n" not in value["source"][0]["title"]


def profile_of(pattern: Ribbon, blur: float = 0.8, noise: float = 0.003, gain: float = 0.8) -> np.ndarray:
    """What a row's profile (COLUMNS, 3) of this ribbon is: woven finely, lit, blurred, noisy."""
    light = weave(pattern, COLUMNS * 8, 1)[0].reshape(COLUMNS, 8, 3).mean(1) * gain
    light = blurred(light[None, None], blur)[0, 0]
    return root(light) + np.random.default_rng(3).normal(0, noise, (COLUMNS, 3))


@pytest.mark.parametrize("blur", [0.5, 0.8, 1.5])
def test_stripes_of_woven_cloth_are_measured_to_a_quarter_of_a_millimetre(blur: float) -> None:
    """A campaign ribbon with 2 mm stripes, sharp to somewhat blurred: every edge is where it was woven."""
    pattern = ribbon((NAVY, 10), (WHITE, 2), (RED, 8), (WHITE, 2), (NAVY, 10))
    found = measure(profile_of(pattern, blur), np.full(COLUMNS, 8.0), blur)
    assert found.edges / MM == pytest.approx([0, 10, 12, 20, 22, 32], abs=0.25)
    assert not found.shaded.any()


def test_a_shaded_stripe_is_one_stripe() -> None:
    """Gold passing into white is one shaded stripe between two plain ones, not a flight of steps."""
    shading = Stripe(GOLD, WHITE, 20)
    pattern = Ribbon("standard", "stripes", (*stripes((NAVY, 6)), shading, *stripes((RED, 6))), 32.0, 10.0)
    found = measure(profile_of(pattern), np.full(COLUMNS, 8.0), 0.8)
    assert found.shaded.tolist() == [False, True, False]
    assert found.edges / MM == pytest.approx([0, 6, 26, 32], abs=0.3)


def test_a_plain_ribbon_in_uneven_light_is_plain() -> None:
    """Light that falls off by a tenth from left to right does not make stripes of a plain ribbon."""
    profile = profile_of(ribbon((GREEN, 32))) * np.linspace(1.03, 0.97, COLUMNS)[:, None]
    assert measure(profile, np.full(COLUMNS, 8.0), 0.8).edges.tolist() == [0.0, COLUMNS]


def far_apart(a: Colour, b: Colour) -> bool:
    return float(ciede2000(a.lab, b.lab)) > 20.0


@st.composite
def patterns(draw: st.DrawFn) -> Ribbon:
    """2 to 7 plain stripes of 2 to 9 parts each, neighbours of quite different colours."""
    dyes = (NAVY, WHITE, RED, GREEN, GOLD, SKY)
    chosen = [draw(st.sampled_from(dyes))]
    for _ in range(draw(st.integers(1, 6))):
        chosen.append(draw(st.sampled_from([d for d in dyes if far_apart(d, chosen[-1])])))
    parts = [(dye, draw(st.integers(2, 9))) for dye in chosen]
    unit = 32.0 / sum(part for _, part in parts)
    return ribbon(*((dye, part * unit) for dye, part in parts))


@settings(max_examples=25, deadline=None)
@given(patterns())
def test_any_plain_stripes_are_found(pattern: Ribbon) -> None:
    """However many stripes and of whatever widths: the right number, and every edge within a third of a millimetre."""
    woven = np.cumsum([s.width for s in pattern.stripes])
    if np.diff(woven, prepend=0.0).min() < 1.2:
        return  # narrower than the measuring promises
    found = measure(profile_of(pattern), np.full(COLUMNS, 8.0), 0.8)
    assert len(found.edges) == len(woven) + 1
    assert found.edges[1:] / MM == pytest.approx(woven, abs=0.34)
    for seen, stripe in zip(found.start, pattern.stripes, strict=True):
        assert seen == pytest.approx(root(np.clip(linear_from_lab(np.array(stripe.start.lab)), 0, 1) * 0.8), abs=0.03)
