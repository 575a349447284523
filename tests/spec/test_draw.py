"""A ribbon as drawn: the right light in the right place, at any size."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from math import radians, sin

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from ribbonbar.spec.colour import lab_from_hex, lab_from_linear, linear_from_lab, linear_from_srgb, srgb_from_linear
from ribbonbar.spec.draw import FRAME_MM, ribbon_svg, weave
from ribbonbar.spec.model import Colour, Ribbon, Stripe
from ribbonbar.spec.reader import read_specification, shipped_specs

NAVY = Colour("navy", lab_from_hex("#1d2748"), "memory")
WHITE = Colour("white", lab_from_hex("#f2efe6"), "memory")
RED = Colour("red", lab_from_hex("#c2332c"), "memory")
DEMO = [r for a in read_specification([shipped_specs() / "lorrandy.toml"]).awards.values() for r in a.ribbons]


def ribbon(*stripes: tuple[Colour, Colour, float], shape: str = "stripes", **more) -> Ribbon:
    return Ribbon("standard", shape, tuple(Stripe(*stripe) for stripe in stripes), 32.0, 10.0, **more)


def plain(*stripes: tuple[Colour, float], **more) -> Ribbon:
    return ribbon(*((colour, colour, width) for colour, width in stripes), **more)


def light(colour: Colour) -> np.ndarray:
    return linear_from_lab(np.array(colour.lab))


def test_stripes_stand_in_their_places() -> None:
    """Navy 8, white 16, navy 8 on 32 pixels: whole pixels of whole dyes, the same from top to bottom."""
    cloth = weave(plain((NAVY, 8), (WHITE, 16), (NAVY, 8)), 32, 10)
    assert (cloth.shape, cloth.dtype) == ((10, 32, 3), np.float32)
    expected = np.concatenate([[light(NAVY)] * 8, [light(WHITE)] * 16, [light(NAVY)] * 8])
    np.testing.assert_allclose(cloth, np.broadcast_to(expected, cloth.shape), atol=1e-6)


def test_only_the_ratios_of_the_widths_count() -> None:
    """The same ribbon in millimetres and in sixty-fourths of an inch."""
    a, b = plain((NAVY, 10), (RED, 22)), plain((NAVY, 27.5), (RED, 60.5))
    np.testing.assert_allclose(weave(a, 77, 3), weave(b, 77, 3), atol=1e-6)


def test_a_stripe_narrower_than_a_pixel_mixes_its_light() -> None:
    """Half a pixel of navy beside half a pixel of white is the mean of their light, not of their sRGB values."""
    cloth = weave(plain((NAVY, 1), (WHITE, 1)), 1, 1)
    np.testing.assert_allclose(cloth[0, 0], (light(NAVY) + light(WHITE)) / 2, atol=1e-6)


def test_a_shaded_stripe_is_even_to_the_eye() -> None:
    """Its middle is midway in L*a*b*, and it is monotone from dye to dye."""
    lab = lab_from_linear(weave(ribbon((NAVY, WHITE, 32)), 63, 1)[0])
    np.testing.assert_allclose(lab[31], (np.array(NAVY.lab) + np.array(WHITE.lab)) / 2, atol=0.3)
    assert (np.diff(lab[:, 0]) > 0).all()


def test_bands_run_level() -> None:
    """Navy over white over red: every row is one colour."""
    cloth = weave(plain((NAVY, 1), (WHITE, 1), (RED, 1), shape="bands"), 40, 30)
    for rows, colour in ((cloth[:10], NAVY), (cloth[10:20], WHITE), (cloth[20:], RED)):
        np.testing.assert_allclose(rows, np.broadcast_to(light(colour), rows.shape), atol=1e-6)


def test_a_diagonal_at_45_degrees_climbs_to_the_right() -> None:
    """A step to the right and up stays on the stripe, a step to the right and down does not; at 135 the reverse."""
    cloth = weave(plain((NAVY, 3.2), (WHITE, 3.2), shape="diagonal", angle=45.0), 320, 100)
    np.testing.assert_allclose(cloth[1:, :-1], cloth[:-1, 1:], atol=1e-4)
    assert np.abs(cloth[:-1, :-1] - cloth[1:, 1:]).max() > 0.1
    other = weave(plain((NAVY, 3.2), (WHITE, 3.2), shape="diagonal", angle=-45.0), 320, 100)
    np.testing.assert_allclose(other[:-1, :-1], other[1:, 1:], atol=1e-4)


@pytest.mark.parametrize("angle", [30.0, 45.0, 60.0, -20.0, -60.0])
def test_widths_of_a_diagonal_are_across_its_stripes(angle: float) -> None:
    """Level with the bar the pattern repeats after its width over the sine of the slope, in millimetres."""
    cloth = weave(plain((NAVY, 2), (WHITE, 2), shape="diagonal", angle=angle), 3200, 101)
    bright = cloth[50].mean(axis=1) > (light(NAVY).mean() + light(WHITE).mean()) / 2
    edges = np.flatnonzero(np.diff(bright)) / 100
    np.testing.assert_allclose(np.diff(edges), 2 / abs(sin(radians(angle))), atol=0.03)


@pytest.mark.parametrize("angle", [45.0, -45.0, 60.0])
def test_a_diagonal_begins_at_the_lower_left_and_runs_to_the_right(angle: float) -> None:
    """Along the lower edge the colours come in the order listed; the phase shifts them to the right."""
    pattern = plain((NAVY, 4), (WHITE, 4), (RED, 4), shape="diagonal", angle=angle)
    period = 12 / abs(sin(radians(angle)))
    for phase in (0.0, 3.0):
        bottom = weave(pattern, 3200, 50, phase_mm=phase)[-1]
        for part, colour in ((1, NAVY), (3, WHITE), (5, RED)):
            np.testing.assert_allclose(bottom[int((phase + period * part / 6) * 100)], light(colour), atol=1e-5)


def test_back_to_front_is_the_mirror_image() -> None:
    """For every ribbon of the demonstration country; and a symmetrical one looks the same."""
    for one in DEMO:
        turned = weave(one, 97, 31, reversed=True)
        np.testing.assert_array_equal(turned, weave(one, 97, 31)[:, ::-1])
        if one.symmetrical and one.stripes:
            np.testing.assert_allclose(turned, weave(one, 97, 31), atol=1e-5)


def test_a_frame_covers_the_rim() -> None:
    """The rim is the frame's colour and the cloth begins behind it; half a frame in a pixel is half its light."""
    cloth = weave(plain((NAVY, 32), frame=RED), 320, 100)
    rim = round(FRAME_MM * 10)
    np.testing.assert_allclose(cloth[:rim].reshape(-1, 3), np.broadcast_to(light(RED), (rim * 320, 3)), atol=1e-6)
    np.testing.assert_allclose(cloth[rim:-rim, rim], np.broadcast_to(light(NAVY), (100 - 2 * rim, 3)), atol=1e-6)
    coarse = weave(plain((NAVY, 32), frame=RED), 32, 10)
    np.testing.assert_allclose(coarse[5, 1], (light(RED) + light(NAVY)) / 2, atol=1e-6)


def test_an_unmatched_ribbon_is_hatched() -> None:
    """It is grey and not even, so that nobody takes it for a plain ribbon."""
    cloth = weave(Ribbon("standard", "unmatched", (), 32.0, 10.0, unmatched="embroidered"), 320, 100)
    assert np.ptp(cloth, axis=2).max() == 0
    assert np.ptp(cloth[..., 0]) > 0.1


_dyes = st.sampled_from([NAVY, WHITE, RED])
_stripes = st.lists(st.builds(Stripe, _dyes, _dyes, st.floats(0.3, 10)), min_size=1, max_size=5).map(tuple)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    stripes=_stripes,
    shape=st.sampled_from(["stripes", "bands", "diagonal"]),
    angle=st.sampled_from([-75.0, -45.0, 3.0, 30.0, 45.0, 88.0]),
    size=st.tuples(st.integers(1, 9), st.integers(1, 9)),
    times=st.integers(2, 7),
)
def test_a_small_picture_is_the_mean_of_a_large_one(stripes, shape, angle, size, times) -> None:
    """Every pixel holds exactly the mean light of the cloth it covers, whatever the shape, size or aspect."""
    one = Ribbon("standard", shape, stripes, 32.0, 10.0, angle=angle)
    width, height = size
    large = weave(one, width * times, height * times).reshape(height, times, width, times, 3).mean((1, 3))
    np.testing.assert_allclose(weave(one, width, height), large, atol=2e-5)


def _painted(svg: str, width_mm: float, height_mm: float, scale: int) -> np.ndarray:
    """The SVG's outlines filled by another painter, (H, W, 3) linear light."""
    picture = Image.new("RGB", (round(width_mm * scale), round(height_mm * scale)))
    pen = ImageDraw.Draw(picture)
    for path in ET.fromstring(svg).iter("path"):
        parts = [part for part in re.split("[MZ]", path.get("d")) if part]
        points = [[tuple(float(v) * scale for v in p.split()) for p in part.split("L")] for part in parts]
        if path.get("fill-rule") == "evenodd":
            mask = Image.new("1", picture.size, 1)
            ImageDraw.Draw(mask).polygon(points[1], fill=0)
            picture.paste(path.get("fill"), mask=mask)
        else:
            pen.polygon(points[0], fill=path.get("fill"))
    return linear_from_srgb(np.asarray(picture) / 255)


@pytest.mark.parametrize("one", [r for r in DEMO if r.stripes], ids=lambda r: f"{r.shape}-{r.angle:g}-{len(r.stripes)}")
def test_the_drawing_to_scale_shows_the_woven_ribbon(one: Ribbon) -> None:
    """The SVG, filled in by another painter, differs from the woven picture at most at the edges of its strips."""
    svg = ribbon_svg(one, one.width_mm, one.height_mm)
    scale = 16
    painted = _painted(svg, one.width_mm, one.height_mm, scale)
    woven = weave(one, painted.shape[1], painted.shape[0])
    difference = np.abs(srgb_from_linear(painted) - srgb_from_linear(woven)).max(axis=2)
    assert np.median(difference) < 0.02
    assert (difference > 0.05).mean() < 0.12


def test_a_drawing_cannot_carry_markup_or_references() -> None:
    """A hostile title stays text, and no drawing holds an id that could clash or a reference that could load."""
    svg = ribbon_svg(DEMO[0], 32, 10, title='</title><script>alert(1)</script>"&')
    assert "<script" not in svg
    assert ET.fromstring(svg).find("title").text == '</title><script>alert(1)</script>"&'
    for one in DEMO:
        assert not re.search(r"\b(id|href|style|on\w+)=|url\(", ribbon_svg(one, 32, 10, reversed=True))


def test_a_drawing_is_the_same_every_time() -> None:
    """Same ribbon in, same text out."""
    for one in DEMO:
        assert ribbon_svg(one, 32, 10) == ribbon_svg(replace(one), 32, 10)
