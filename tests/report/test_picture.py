"""The annotated picture."""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageCms, ImageDraw

from ribbonbar.report import picture
from ribbonbar.report.picture import annotate, to_png
from tests.report.conftest import DYES, candidate, keys, photograph, position, report_on


@pytest.fixture
def written(monkeypatch):
    """Every text drawn from now on: (text, its box, the strip it is drawn on)."""
    texts = []
    draw = ImageDraw.ImageDraw.text

    def spy(self, xy, text, fill=None, font=None, anchor=None):
        texts.append((text, self.textbbox(xy, text, font, anchor), self))
        return draw(self, xy, text, fill, font, anchor)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", spy)
    return texts


def _assert_apart(texts):
    """Nothing runs off the page, no two texts share a place (a letter's hanging tail may touch)."""
    for i, (text, (left, top, right, bottom), strip) in enumerate(texts):
        assert left >= 0 and right <= strip.im.size[0] and bottom <= strip.im.size[1] + 1, text
        for other, (x0, y0, x1, y1), its in texts[i + 1 :]:
            apart = strip is not its or right <= x0 + 1 or x1 <= left + 1 or bottom <= y0 + 2 or y1 <= top + 2
            assert apart, f"{text!r} over {other!r}"


def _count(image, dye: str) -> int:
    wanted = np.array([int(DYES[dye][i : i + 2], 16) for i in (1, 3, 5)])
    return int((np.abs(np.asarray(image).astype(int) - wanted) <= 1).all(axis=2).sum())


def test_it_shows_the_bar_and_under_it_the_bar_as_it_should_be(out_of_order, photo_pixels, specification, written):
    """Both bars numbered, names under the drawing, moved ribbons marked in words."""
    image = annotate(out_of_order, photo_pixels, specification)
    said = [" ".join(text.split()) for text, *_ in written]
    assert image.mode == "RGB" and image.width == 1600
    assert said[0] == "Out of order"
    heads = [said.index(x) for x in ("As photographed", "2.4 !", "As it should be", "2.2 Strait Medal")]
    assert heads == sorted(heads)
    assert {"1.1", "1.2", "2.1", "2.2 !", "2.3 !", "2.4 !"} <= set(said)
    assert {"moved from 2.4", "moved from 2.2", "turned the right way round"} <= set(said)


def test_the_drawing_is_woven_from_the_specification(in_order, out_of_order, specification):
    """The drawing shows the published dyes: the Strait Medal's black is there although the photo is blank."""
    blank = np.full((800, 1400, 3), 128, np.uint8)
    image = annotate(out_of_order, blank, specification)
    for dye, share in (("black", 20 / 32), ("navy", 20 / 32), ("gold", 20 / 32), ("green", 12 / 32)):
        # a moved ribbon loses up to a fifth of its cloth under the frame that marks it
        assert 0.78 < _count(image, dye) / (share * 376 * 118) < 1.02, dye
    assert _count(image, "orange") == 0


@pytest.mark.parametrize("name", ["in_order", "out_of_order", "doubtful", "verified", "hostile"])
def test_no_label_overlaps_another(name, request, hostile_specification, written):
    """Every label can be read: none lies over another or runs off the page."""
    report = request.getfixturevalue(name)
    annotate(report, photograph(report), hostile_specification)
    _assert_apart(written)


def test_a_long_row_keeps_its_labels_apart(specification, written):
    """Sixteen ribbons in one row still have numbers and names beside each other."""
    ids = ("jubilee", "long-service", "harbour-star", "heron") * 4
    row = []
    for i, id in enumerate(ids):
        x = 200 + 60 * i
        box = ((x, 300), (x + 60, 300), (x + 60, 320), (x, 320))
        row.append(replace(position(1, 1, 1, candidate(id)), position=f"1.{i + 1}", corners=box))
    report = report_on(tuple(row), outcome="unconfirmed", proposed_order=keys(*ids))
    outline = ((200, 300), (1160, 300), (1160, 320), (200, 320))
    report = replace(report, bars=(replace(report.bars[0], corners=outline),))
    annotate(report, np.full((800, 1400, 3), 90, np.uint8), specification)
    assert "1.16" in [text for text, *_ in written]
    _assert_apart(written)


def test_unknown_and_doubtful_ribbons_are_marked_by_a_sign(doubtful, photo_pixels, specification, written):
    """A question mark, not only a colour; the other name it may have is written beside it."""
    annotate(doubtful, photo_pixels, specification)
    assert {"2.1 ?", "2.3 ?", "?", "or Strait Medal"} <= {text for text, *_ in written}


def test_only_the_bar_of_the_photo_is_shown(out_of_order, photo_pixels, specification):
    """The red patch in the photo's corner is nowhere on the picture."""
    image = np.asarray(annotate(out_of_order, photo_pixels, specification)).astype(int)
    assert not ((image[..., 0] > 225) & (image[..., 1] < 40)).any()


def test_the_png_carries_a_profile_and_nothing_else(out_of_order, photo_pixels, specification):
    """sRGB is said by the file; no text, no EXIF; the same report gives the same bytes."""
    image = annotate(out_of_order, photo_pixels, specification)
    image.info["exif"] = b"secret"
    data = to_png(image)
    again = Image.open(io.BytesIO(data))
    profile = ImageCms.ImageCmsProfile(io.BytesIO(again.info["icc_profile"]))
    assert "sRGB" in ImageCms.getProfileDescription(profile)
    assert set(again.info) == {"icc_profile"} and b"secret" not in data
    assert to_png(annotate(out_of_order, photo_pixels, specification)) == data


def test_no_bar_still_makes_a_page(no_bar, photo_pixels, specification, written):
    """Without a bar the picture says so and shows nothing of the photo."""
    assert annotate(no_bar, photo_pixels, specification).height < 600
    assert written[0][0] == "No ribbon bar found"


def test_names_in_other_letters_are_written(out_of_order, photo_pixels, specification, written, monkeypatch):
    """Accents are kept where a font has them, else the nearest plain letter stands in; never a box."""
    heron = specification.awards["tarn/heron"]
    awards = specification.awards | {heron.key: replace(heron, name="Médaille d’été – Łódź")}
    named = replace(specification, awards=awards)
    monkeypatch.setattr(picture, "_FONTS", ())
    annotate(out_of_order, photo_pixels, named)
    assert "Medaille d’ete - Lodz" in " ".join(" ".join(text for text, *_ in written).split())
