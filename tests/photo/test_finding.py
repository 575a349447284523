"""Where the bar is, and its rows: on simulated photographs, and nowhere on pictures without one."""

import cv2
import numpy as np
import pytest

from ribbonbar.choosing import ANYWHERE
from ribbonbar.photo import finding
from ribbonbar.photo.finding import Search, bar_from_corners
from ribbonbar.photo.model import Picture
from ribbonbar.photo.scales import Scales
from tests.benchmarks.finding import SHIPPED, Tally, count, shared_area
from tests.simulator import simulate


def picture_of(photograph):
    return Picture(photograph.name, photograph.pixels, "")


def true_rows(photograph):
    return [[np.array(row) for row in bar["rows"]] for bar in photograph.truth["bars"]]


@pytest.mark.parametrize("level", [1, 2, 3, 4])
def test_a_bar_is_found_with_all_its_rows(level):
    """On pictures of every level the outline fits, all rows are there, and their corners are right to a millimetre."""
    tally = Tally()
    for seed in range(410, 410 + (6 if level < 4 else 2)):
        photograph = simulate(level, seed)
        count(tally, photograph.name, Search(picture_of(photograph)).bars(), true_rows(photograph))
    assert tally.found == tally.counted == tally.pictures
    assert tally.extra == 0
    assert np.median(tally.off) < 1.0


def test_rows_come_top_first_and_corners_clockwise():
    """Rows are ordered from the top of the upright picture; each quad turns clockwise from its top left corner."""
    photograph = simulate(1, 411)
    bar = Search(picture_of(photograph)).bars()[0]
    heights = [row.corners[:, 1].mean() for row in bar.rows]
    assert heights == sorted(heights)
    for row in bar.rows:
        assert row.corners[0, 0] < row.corners[1, 0]
        assert row.corners[0, 1] < row.corners[3, 1]
    assert 0.5 < bar.confidence <= 1


@pytest.mark.parametrize("turn", ["mirrored", "upside-down"])
def test_finding_does_not_mind_which_way_round_the_picture_is(turn):
    """A flipped or turned picture has its bar in the flipped or turned place."""
    photograph = simulate(2, 412)
    flip = (slice(None), slice(None, None, -1)) if turn == "mirrored" else (slice(None, None, -1),) * 2
    seen = Search(Picture("turned", np.ascontiguousarray(photograph.pixels[flip]), "")).bars()[0].corners
    last = np.array(photograph.pixels.shape[1::-1]) - 1
    back = np.column_stack([last[0] - seen[:, 0], seen[:, 1] if turn == "mirrored" else last[1] - seen[:, 1]])
    assert shared_area(back, Search(picture_of(photograph)).bars()[0].corners) > 0.93


def test_each_of_several_bars_is_found():
    """Two bars in one picture are two finds."""
    second = simulate(2, 429).bars[0]
    photograph = simulate(2, 428, second=second)
    tally = Tally()
    count(tally, photograph.name, Search(picture_of(photograph)).bars(), true_rows(photograph))
    assert (tally.pictures, tally.found, tally.extra) == (2, 2, 0)


@pytest.mark.parametrize("gap", [40, 110])
def test_a_bar_close_above_another_is_found_without_that_one(gap):
    """What is seen of the place of a single row is the three rows right below it, until they are left out."""
    rng = np.random.default_rng(7)
    pixels = np.clip(np.array([170, 40, 44]) + rng.normal(0, 4, (1000, 1500, 3)), 0, 255).astype(np.uint8)
    cloth = rng.integers(20, 235, (80, 3))
    for number, (left, top) in enumerate([(400, 410 - gap), (450, 470), (450, 530), (450, 590)]):
        for stripe in range(20):
            x = left + 40 * stripe
            cv2.rectangle(pixels, (x, top), (x + 39, top + 59), cloth[20 * number + stripe].tolist(), -1)
    turn = cv2.getRotationMatrix2D((750, 500), 6.0, 1.0)
    pixels = cv2.warpAffine(pixels, turn, (1500, 1000), borderMode=cv2.BORDER_REPLICATE)
    boxes = np.array([[450, 470, 1250, 650], [400, 410 - gap, 1200, 470 - gap]], float)
    below, above = (cv2.transform(box[None, [[0, 1], [2, 1], [2, 3], [0, 3]]], turn)[0] for box in boxes)
    places = Search(Picture("two", pixels, "")).places(0.03, [below])
    assert any(shared_area(place.corners, above) > 0.75 for place in places)


@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_size_does_not_matter(factor):
    """The same photo at half and at double size shows the same bar."""
    import cv2

    photograph = simulate(1, 415)
    pixels = cv2.resize(photograph.pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    bar = Search(Picture("resized", pixels, "")).bars()[0]
    rows = true_rows(photograph)[0]
    assert len(bar.rows) == len(rows)
    assert shared_area(np.concatenate([row.corners for row in bar.rows]), np.concatenate(rows) * factor) > 0.9


def test_the_outline_given_by_hand_is_split_into_rows():
    """A roughly drawn outline gives the rows within it, with their own exact edges."""
    photograph = simulate(1, 416)
    rows = true_rows(photograph)[0]
    rough = np.array(photograph.truth["bars"][0]["corners"]) + np.array([[-4, 3], [5, -2], [3, 4], [-3, -3]])
    bar = bar_from_corners(picture_of(photograph), rough)
    assert np.allclose(bar.corners, rough)
    tally = Tally()
    count(tally, photograph.name, (bar,), [rows])
    assert tally.counted == 1
    assert np.median(tally.off) < 1.0


def test_an_outline_without_stripes_is_one_row():
    """Where nothing can be split, the outline itself is the row: the user has said so."""
    corners = np.array([[50.0, 50], [250, 50], [250, 80], [50, 80]])
    bar = bar_from_corners(Picture("plain", np.full((200, 300, 3), 90, np.uint8), ""), corners)
    assert [row.corners.tolist() for row in bar.rows] == [corners.tolist()]


@pytest.mark.parametrize("name", SHIPPED)
def test_no_bar_on_pictures_without_one(name):
    """The pictures that scikit-image ships hold no ribbon bar."""
    from skimage import data

    try:
        pixels = np.asarray(getattr(data, name)())
    except Exception:
        pytest.skip("fetched on demand, and there is no network")
    pixels = (pixels * 255).astype(np.uint8) if pixels.dtype == bool else pixels.astype(np.uint8)
    pixels = np.repeat(pixels[..., None], 3, axis=2) if pixels.ndim == 2 else pixels[..., :3]
    assert Search(Picture(name, np.ascontiguousarray(pixels), "")).bars() == ()


@pytest.mark.parametrize("kind", ["black", "white", "noise", "one pixel", "a line", "tricolour", "cloth", "stripes"])
def test_no_bar_on_made_up_pictures(kind):
    """Nothing, noise, extreme shapes, a flag, a jacket without a bar and endless stripes hold no ribbon bar."""
    rng = np.random.default_rng(3)
    stripes = np.array([(200, 30, 40), (240, 240, 235), (30, 40, 140), (240, 200, 40)], np.uint8)
    flag = np.full((600, 900, 3), 120, np.uint8)
    flag[150:450, 200:650] = np.repeat(stripes[:3], 150, axis=0)[None]
    pixels = {
        "black": np.zeros((600, 800, 3), np.uint8),
        "white": np.full((600, 800, 3), 255, np.uint8),
        "noise": rng.integers(0, 256, (600, 800, 3), np.uint8),
        "one pixel": np.zeros((1, 1, 3), np.uint8),
        "a line": rng.integers(0, 256, (20_000, 1, 3), np.uint8),
        "tricolour": flag,
        "cloth": simulate(2, 417, bare=True).pixels,
        "stripes": np.tile(stripes[np.arange(800) // 9 % 4], (600, 1, 1)),
    }[kind]
    assert Search(Picture(kind, np.ascontiguousarray(pixels), "")).bars() == ()


def test_a_row_that_runs_off_the_picture_ends_at_its_border():
    """A close shot of the middle of a bar: stripes from border to border, and none that nobody has seen beyond."""
    wide, tall, top, bottom = 900, 600, 250, 330
    cloth = ((170, 30, 40), (235, 235, 230), (30, 60, 130), (30, 110, 60), (225, 190, 60), (80, 30, 90))
    pixels = np.full((tall, wide, 3), (92, 98, 104), np.uint8)
    for number, x in enumerate(range(0, wide, 30)):
        pixels[top:bottom, x : x + 30] = cloth[number % len(cloth)]
    places = Search(Picture("close", pixels, "")).places(ANYWHERE)
    assert places
    for place in places:
        (row,) = place.rows
        assert np.abs(row.corners - [[0, top], [wide, top], [wide, bottom], [0, bottom]]).max() < 0.02 * wide


def test_what_lies_off_the_picture_is_no_row(monkeypatch):
    """Few lines can mislead a homography; an outline given by hand is then taken as one row."""
    photograph = simulate(1, 411)
    monkeypatch.setattr(
        finding, "refine", lambda scales, seen, fits: [np.array(r) + 5000.0 for r in true_rows(photograph)[0]]
    )
    picture = picture_of(photograph)
    assert Search(picture).bars() == ()
    assert Search(picture).places(0.0) == ()
    outline = np.array(photograph.truth["bars"][0]["corners"])
    assert np.allclose([row.corners for row in bar_from_corners(picture, outline).rows], [outline])


def test_candidates_tell_why():
    """Every place looked at is listed, best first, with what speaks for and against it."""
    candidates = Search(picture_of(simulate(2, 418))).candidates()
    assert len(candidates) > 1
    assert [c.confidence for c in candidates] == sorted((c.confidence for c in candidates), reverse=True)
    assert {"stripes", "even", "hues"} <= set(candidates[0].evidence)


@pytest.mark.parametrize(("tall", "may_be"), [(9, False), (11, True)])
def test_a_row_of_less_than_a_pixel_a_millimetre_is_none(tall, may_be):
    quad = np.array([[20, 20], [90, 20], [90, 20 + tall], [20, 20 + tall]], float)
    assert finding.may_be_row(Scales.of(np.zeros((60, 120, 3), np.uint8)), quad) is may_be


def test_what_is_hidden_is_not_found():
    """With the bar left out nothing is found where it stands; with another place left out it is found as before."""
    photograph = simulate(1, 411)
    search = Search(picture_of(photograph))
    (bar,) = search.bars()
    height, width = photograph.pixels.shape[:2]
    corner = np.array([[0, 0], [width / 20, 0], [width / 20, height / 20], [0, height / 20]])
    assert not any(shared_area(one.corners, bar.corners) > 0.1 for one in search.without([bar.corners]).bars())
    assert shared_area(search.without([corner]).bars()[0].corners, bar.corners) > 0.9
