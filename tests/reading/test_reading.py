"""Given this strip, expect this reading."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from ribbonbar.photo.model import Strip
from ribbonbar.reading.decode import DecodedRow, set_up
from ribbonbar.reading.light import NEUTRAL, fit_light
from ribbonbar.reading.observe import SAMPLES_PER_MM, fineness, view
from ribbonbar.reading.read import _may_slant, read_bar, read_rows
from ribbonbar.reading.segment import Division, divisions, width_classes
from ribbonbar.reading.templates import bank_of
from ribbonbar.spec.model import Award, Specification
from tests.reading.cloth import GOLD, GREEN, NAVY, RED, WHITE, catalogue, dye, ribbon, strip_of, woven_strip
from tests.reading.cloth import RIBBONS as R

BANK = bank_of(catalogue())


def names(reading) -> list[str]:
    return [one.candidates[0].award.removeprefix("calder/") for one in reading]


def test_a_row_is_named_from_the_viewers_left():
    """Four different ribbons, a plain one among them, are named in their sequence and surely."""
    row = ["valour-cross", "harbour-star", "sea-medal", "long-service"]
    (reading,) = read_bar([strip_of(*row)], BANK).rows
    assert names(reading) == row
    assert {one.status for one in reading} == {"identified"}


def test_warm_light_does_not_change_a_name():
    """Under a lamp the same bar reads the same."""
    row = ["harbour-star", "long-service", "sea-medal"]
    (reading,) = read_bar([strip_of(*row, light=(1.0, 0.7, 0.35))], BANK).rows
    assert names(reading) == row


def test_a_ribbon_mounted_back_to_front_is_seen():
    """The asymmetrical ribbon is the same award, the other way round."""
    row = ["harbour-star", "polar-medal", "long-service"]
    (reading,) = read_bar([strip_of(*row, back_to_front=(1,))], BANK).rows
    assert names(reading) == row
    assert reading[1].candidates[0].reversed
    assert not read_bar([strip_of(*row)], BANK).rows[0][1].candidates[0].reversed


def test_diagonals_and_bands_are_read():
    """Slanted patterns are told from upright ones, wherever on the roll they were cut."""
    row = ["flying-cross", "harbour-star", "republic"]
    (reading,) = read_bar([strip_of(*row)], BANK).rows
    assert names(reading) == row


def test_a_wide_ribbon_keeps_its_width():
    """A 38 mm ribbon among 32 mm ones: the row is no whole number of equal parts."""
    row = ["harbour-star", "order-of-merit", "long-service"]
    (reading,) = read_bar([strip_of(*row)], BANK).rows
    assert names(reading) == row
    start, end = reading[1].span
    assert (end - start) * (32 + 38 + 32) == pytest.approx(38, abs=1.0)


def test_a_ribbon_in_no_specification_is_not_guessed():
    """What is unlike everything is unidentified, and its neighbours are still named."""
    stranger = ribbon((GREEN, 4), (WHITE, 9), (NAVY, 3), (RED, 9), (GOLD, 7))
    strip = woven_strip([(R["harbour-star"], False), (stranger, False), (R["long-service"], False)])
    (reading,) = read_bar([strip], BANK).rows
    assert [one.status for one in reading] == ["identified", "unidentified", "identified"]


def test_awards_that_share_a_ribbon_are_all_named():
    """Both awards are given, each with half the probability, and neither is called identified."""
    specification = catalogue()
    specification.awards["calder/twin"] = specification.awards["calder/harbour-star"]
    (reading,) = read_bar([strip_of("harbour-star", "long-service")], bank_of(specification)).rows
    assert reading[0].status == "ambiguous"
    best = {c.award: c.probability for c in reading[0].candidates[:2]}
    assert set(best) == {"calder/harbour-star", "calder/twin"}
    assert best["calder/twin"] == pytest.approx(best["calder/harbour-star"])


def test_an_emblem_does_not_spoil_the_reading():
    """A silver rosette in the middle of a centre-striped ribbon is found, and the ribbon is still named."""
    strip = strip_of("harbour-star", "long-service", "sea-medal")
    height = strip.pixels.shape[0]
    y, x = np.mgrid[0:height, 0 : strip.pixels.shape[1]]
    middle = 1.5 * 32 * 6
    strip.pixels[(x - middle) ** 2 + (y - height / 2) ** 2 < 20**2] = (0.55, 0.56, 0.58)
    (reading,) = read_bar([strip], BANK).rows
    assert names(reading)[1] == "long-service"
    (emblem,) = reading[1].emblems
    assert emblem.x == pytest.approx(0.5, abs=0.06)
    assert emblem.y == pytest.approx(0.5, abs=0.12)
    assert emblem.size_mm == pytest.approx(6.7, abs=2.0)
    assert not reading[0].emblems


def test_a_reading_says_how_much_of_a_ribbon_is_written_on():
    """Letters stand over two thirds of the middle ribbon, half-way up; a diagonal crosses its own cloth."""
    strip = strip_of("harbour-star", "valour-cross", "flying-cross")
    height = strip.pixels.shape[0]
    y, x = np.mgrid[0:height, 0 : strip.pixels.shape[1]]
    inside = (abs(x - 1.5 * 32 * 6) < 64) & (abs(y - height / 2) < 15)
    strip.pixels[inside & (x // 8 % 3 != 0)] = (0.8, 0.8, 0.75)
    (reading,) = read_bar([strip], BANK).rows
    assert reading[0].covered < 0.05
    assert reading[1].covered == pytest.approx(0.67, abs=0.2)
    assert reading[2].covered == 0.0
    assert reading[2].candidates[0].award == "calder/flying-cross"


FAINT = replace(ribbon((dye("sand", "#c8ab79"), 4), (dye("mint", "#b4b890"), 3)), shape="diagonal", angle=60.0)


@pytest.mark.parametrize("shown", ["stripes", "letters"])
def test_letters_on_one_colour_are_no_faint_diagonal(shown):
    """A name plate of the ribbon's mean colour shows no slanting stripes, whatever its letters may hide of them."""
    awards = catalogue().awards | {"calder/faint": Award("calder/faint", "Faint", ribbons=(FAINT,))}
    between = ribbon((dye("between", "#bfb184"), 32))
    strip = woven_strip([(R["harbour-star"], False), (FAINT if shown == "stripes" else between, False)])
    if shown == "letters":
        height = strip.pixels.shape[0]
        y, x = np.mgrid[0:height, 0 : strip.pixels.shape[1]]
        strip.pixels[(abs(x - 1.5 * 32 * 6) < 40) & (abs(y - height / 2) < 12) & (x // 6 % 3 == 0)] = (0.8, 0.8, 0.75)
    (reading,) = read_bar([strip], bank_of(Specification(awards=awards))).rows
    assert reading[1].candidates[0].award == "calder/faint"
    assert reading[1].status == ("identified" if shown == "stripes" else "unidentified")
    assert (reading[1].covered > 0.1) == (shown == "letters")


@pytest.mark.parametrize(("wide_mm", "emblems"), [(1.2, 0), (4.0, 1)])
def test_a_thread_is_no_emblem(wide_mm, emblems):
    """A piece of metal six millimetres tall is one; a millimetre wide it is a thread, or a stripe's leaning edge."""
    strip = strip_of("harbour-star", "long-service", "sea-medal")
    height = strip.pixels.shape[0]
    y, x = np.mgrid[0:height, 0 : strip.pixels.shape[1]]
    stands = (abs(x - 1.5 * 32 * 6) < wide_mm / 2 * 6) & (abs(y - height / 2) < 3 * 6)
    strip.pixels[stands] = (0.55, 0.56, 0.58)
    (reading,) = read_bar([strip], BANK).rows
    assert names(reading)[1] == "long-service"
    assert len(reading[1].emblems) == emblems


@pytest.mark.parametrize(("shift", "emblems"), [((0.014, 0.018, -0.13), 0), ((-0.12, -0.12, -0.12), 1)])
def test_cloth_whose_edges_have_their_neighbours_hue_has_no_emblem(shift, emblems):
    """Two photo pixels a millimetre, and JPEG keeps hue at every other: the middle of a gold stripe is as bright as its
    upper and lower end, but deeper in colour. What is darker there is an emblem."""
    strip = replace(strip_of("harbour-star", "long-service", "sea-medal"), scale=3.0)
    height = strip.pixels.shape[0]
    y, x = np.mgrid[0:height, 0 : strip.pixels.shape[1]]
    middle = (abs(x - 1.5 * 32 * 6) < 3.5 * 6) & (abs(y - height / 2) < 3 * 6)
    strip.pixels[middle] = np.clip(np.cbrt(strip.pixels[middle]) + shift, 0, 1) ** 3
    (reading,) = read_bar([strip], BANK).rows
    assert names(reading)[1] == "long-service"
    assert len(reading[1].emblems) == emblems


def test_a_row_cut_short_is_read_to_its_end():
    """The strip goes on beyond an end that was found a centimetre too early."""
    row = ["harbour-star", "long-service", "sea-medal"]
    whole = strip_of(*row)
    ground = np.full((whole.pixels.shape[0], 120, 3), 0.12, np.float32)
    pixels = np.concatenate([ground, whole.pixels, ground], axis=1)
    strip = type(whole)(pixels, np.eye(3), 1.0, ends=(120.0, 120.0 + whole.pixels.shape[1] - 60))
    (reading,) = read_bar([strip], BANK).rows
    assert names(reading) == row


def test_rows_of_one_bar_share_one_scale():
    """A row is not cut into more ribbons than its neighbour's widths allow."""
    rows = [strip_of("harbour-star", "long-service", "sea-medal"), strip_of("jubilee", "polar-medal", "valour-cross")]
    shone, read = read_rows(rows, BANK)
    loom = shone.loom
    scales = [np.ptp(r.decoded.division.edges) / loom.classes[list(r.decoded.division.classes)].sum() for r in read]
    assert scales[0] == pytest.approx(scales[1], rel=0.03)


def test_the_answer_depends_on_nothing_but_the_strips():
    """Read twice, the same comes out to the last digit."""
    strips = [strip_of("harbour-star", "polar-medal", "sea-medal", seed=3)]
    one, two = read_bar(strips, BANK), read_bar(strips, BANK)
    assert [c for r in one.rows[0] for c in r.candidates] == [c for r in two.rows[0] for c in r.candidates]


def test_the_light_is_recovered():
    """An affine light put on known colours is found again, a few strangers among them notwithstanding."""
    random = np.random.default_rng(5)
    expected = random.uniform(0.1, 0.95, (80, 3))
    seen = expected * (0.9, 0.75, 0.6) + (0.1, 0.08, 0.05)
    seen[:8] = random.uniform(0, 1, (8, 3))
    light = fit_light(expected, seen, np.ones(80), np.zeros((80, 3), bool))
    assert np.diag(light.gain) == pytest.approx((0.9, 0.75, 0.6), abs=0.04)
    assert light.take_out(seen[20:]) == pytest.approx(expected[20:], abs=0.03)


def test_without_colours_the_light_is_the_usual_one():
    """Where everything is clipped, and would be under the usual light, nothing is learnt."""
    expected, seen = np.ones((10, 3)), np.full((10, 3), 0.9)
    light = fit_light(expected, seen, np.ones(10), np.ones((10, 3), bool))
    assert light.gain == pytest.approx(NEUTRAL.gain, abs=1e-5)


def test_a_clipped_white_says_that_the_light_is_at_least_so_strong():
    """Dark dyes alone would also do under a dim light; the clipped white rules it out, and pulls no further."""
    rng = np.random.default_rng(11)
    dark = rng.uniform(0.2, 0.4, (8, 3))
    expected = np.concatenate([dark, np.full((8, 3), 0.95)])
    clipped = np.repeat([[False] * 3, [True] * 3], 8, axis=0)
    dim = np.concatenate([0.35 * dark + 0.3, np.full((8, 3), 1.0)])
    light = fit_light(expected, dim, np.ones(16), clipped)
    assert light.shine(np.full((1, 3), 0.95)).min() > 0.9
    strong = np.concatenate([1.1 * dark + 0.05, np.full((8, 3), 1.0)])
    light = fit_light(expected, strong, np.full(16, 20.0), clipped)
    assert 0.95 * np.diag(light.gain) + light.offset == pytest.approx(np.full(3, 1.1), abs=0.06)


def test_rare_widths_make_no_class_of_their_own():
    """A catalogue of 32 and 38 mm ribbons has two classes; one sash does not make a third."""
    classes, of = width_classes(np.array([32.0] * 60 + [31.5] * 10 + [38.0] * 12 + [102.0]))
    assert list(classes) == [32.0, 38.0]
    assert [of[0], of[65], of[75], of[-1]] == [0, 0, 1, 1]


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 8])
def test_a_row_of_nominal_ribbons_divides_into_their_number(count):
    """32 mm by 10 mm a ribbon: common practice, no source."""
    found = divisions(0.0, count * 32 * SAMPLES_PER_MM, SAMPLES_PER_MM, np.array([32.0]))
    best = max(found, key=lambda division: division.log_prior)
    assert len(best.classes) == count
    assert np.allclose(np.diff(best.edges), 32 * SAMPLES_PER_MM)


def test_a_row_of_any_length_has_a_division():
    """Even a scrap shorter than a ribbon is one ribbon, not a crash."""
    (scrap,) = divisions(0.0, 12.0, SAMPLES_PER_MM, np.array([32.0]))
    assert scrap.classes == (0,)


def test_a_leaning_row_is_set_upright():
    """Stripes that lean alike over the whole row are read as upright ones."""
    strip = strip_of("harbour-star", "jubilee", "sea-medal", "long-service")
    height, width = strip.pixels.shape[:2]
    shifts = np.round(np.linspace(-6, 6, height)).astype(int)
    lean = np.stack([np.roll(strip.pixels[y], shifts[y], axis=0) for y in range(height)])
    one = view(type(strip)(lean, np.eye(3), 1.0), fineness([strip]))
    assert one.scatter.mean() < 2 * view(strip, fineness([strip])).scatter.mean() + 1e-3
    assert set_up(BANK, 6.0).vertical.shape[0] == len(BANK.vertical)
    assert width > height


def test_one_stark_diagonal_does_not_lean_its_row():
    """Black and white slants in the middle of a row of quiet upright stripes: those say how the row stands."""
    rng = np.random.default_rng(2)
    height, wide = 30, 120
    quiet = np.where(np.arange(96) // 12 % 2, 0.05, 0.11)
    slanted = np.stack([np.where((np.arange(wide) + 0.3 * y) // 12 % 2, 0.02, 0.85) for y in range(height)])
    light = np.hstack([np.tile(quiet, (height, 1)), slanted, np.tile(quiet, (height, 1))])
    pixels = np.repeat((light + rng.normal(0, 0.002, light.shape))[..., None], 3, axis=2).clip(0).astype(np.float32)
    one = view(Strip(pixels, np.eye(3), 1.0), 3.0)
    assert one.scatter[..., :30].mean() < 0.2 * one.scatter[..., 60:90].mean()


def test_a_ribbon_named_by_hand_helps_with_the_others():
    """Under strong coloured light a lone stranger misleads; once it is named the light is known, and so is the rest."""
    row = ["valour-cross", "polar-medal", "valour-cross"]
    strip = strip_of(*row, light=(1.0, 0.55, 0.2))
    given = {(1, 2): "calder/polar-medal"}
    (named,) = read_bar([strip], BANK, given).rows
    assert names(named)[1] == "polar-medal"
    assert {c.award for c in named[1].candidates} == {"calder/polar-medal"}
    light = read_bar([strip], BANK, given).light
    assert light.gain[2, 2] < light.gain[0, 0]


def test_a_catalogue_of_one_kind_of_ribbon_is_enough():
    """Neither a catalogue without slanted ribbons nor one without upright ones is a reason to fail."""
    upright = bank_of(catalogue("harbour-star", "long-service", "sea-medal"))
    assert names(read_bar([strip_of("harbour-star", "long-service")], upright).rows[0]) == [
        "harbour-star",
        "long-service",
    ]
    slanted = bank_of(catalogue("flying-cross"))
    (reading,) = read_bar([strip_of("flying-cross", "flying-cross")], slanted).rows
    assert names(reading) == ["flying-cross", "flying-cross"]


@pytest.mark.parametrize("tall", [8.0, 10.0, 13.0])
def test_a_diagonal_is_known_on_a_row_cut_lower_or_taller(tall):
    """Rows are cut 8 to 13 mm tall (common practice, no source): a diagonal crosses as much less or more of them."""
    names = ("harbour-star", "flying-cross", "jubilee")
    cut = [(replace(R[name], height_mm=tall), False) for name in names]
    reading = read_bar([woven_strip(cut, noise=0.01)], BANK)
    assert [(one.candidates[0].award, one.status) for one in reading.rows[0]] == [
        (f"calder/{name}", "identified") for name in names
    ]


@pytest.mark.parametrize("tall", [8.0, 11.0])
def test_a_diagonal_is_known_on_a_bar_seen_from_its_end(tall):
    """At 45 degrees a ribbon is seen 0.7 times as wide as it is: it looks taller, and its stripes steeper."""
    names = ("harbour-star", "flying-cross", "jubilee", "sea-medal")
    strip = woven_strip([(replace(R[name], height_mm=tall), False) for name in names], noise=0.01)
    height, width = strip.pixels.shape[:2]
    squeezed = cv2.resize(strip.pixels, (round(0.7 * width), height), interpolation=cv2.INTER_AREA)
    reading = read_bar([replace(strip, pixels=squeezed)], BANK)
    assert [(one.candidates[0].award, one.status) for one in reading.rows[0]] == [
        (f"calder/{name}", "identified") for name in names
    ]


def test_a_shadow_along_a_row_is_no_pattern_of_its_ribbons():
    """The upper half of the row lies in the shade; every ribbon is named as surely as in even light."""
    names = ("harbour-star", "sea-medal", "jubilee")
    strip = strip_of(*names)
    tall = strip.pixels.shape[0]
    shade = np.where(np.arange(tall) < tall // 2, 0.35, 1.0).astype(np.float32)[:, None, None]
    shaded = read_bar([type(strip)(strip.pixels * shade, np.eye(3), 1.0)], BANK).rows[0]
    assert [(one.candidates[0].award, one.status) for one in shaded] == [(f"calder/{n}", "identified") for n in names]


def test_a_reading_says_how_many_stripes_are_seen():
    """A diagonal's come again: 6 mm of white and navy at 45 degrees cross 32 mm 3.77 times."""
    row = read_bar([strip_of("harbour-star", "flying-cross", "long-service", "polar-medal")], BANK).rows[0]
    assert [one.stripes for one in row] == [5, 7, 3, 2]


def test_a_frame_is_seen_though_stripes_in_it_look_like_metal():
    """Gold stripes in a gold frame: there the frame does not part from the ribbon."""
    own = ribbon((NAVY, 13), (GOLD, 1.5), (WHITE, 3), (GOLD, 1.5), (NAVY, 13))
    framed = replace(own, frame=GOLD)
    awards = {f"calder/{n}": Award(f"calder/{n}", n, ribbons=(r,)) for n, r in {"unit": framed, "own": own}.items()}
    bank = bank_of(Specification(awards=dict(catalogue().awards) | awards))
    strip = woven_strip([(R["harbour-star"], False), (framed, False), (R["jubilee"], False)], noise=0.01)
    (row,) = read_bar([strip], bank).rows
    assert (row[1].candidates[0].award, row[1].status) == ("calder/unit", "identified")


def test_shade_along_the_edges_of_one_ribbon_is_no_frame():
    """Its stripes go on into the shade; a frame's metal hides them."""
    strip = woven_strip([(R[name], False) for name in ("harbour-star", "sea-medal", "jubilee")], noise=0.001)
    tall, wide = strip.pixels.shape[:2]
    shade = np.ones((tall, wide, 1), np.float32)
    for edge in (slice(0, tall // 5), slice(tall - tall // 5, tall)):
        shade[edge, wide // 3 : 2 * wide // 3] = 0.5
    cloth = view(Strip(strip.pixels * shade, np.eye(3), 1.0), fineness([strip])).cloth
    assert cloth[[0, -1]].all()


@pytest.mark.parametrize(
    ("upright", "slanted", "may"), [(-70.0, -340.0, True), (-70.0, -360.0, False), (-50.0, -60.0, False)]
)
def test_diagonals_are_drawn_anew_only_for_a_ribbon_that_may_be_one(upright, slanted, may):
    """It is not well recognised, and not wholly unlike a slanted template."""
    loom = set_up(BANK, 6.0)
    evidence = np.full((1, len(loom.pattern)), -500.0)
    evidence[0, 0], evidence[0, -1] = upright, slanted
    assert _may_slant(DecodedRow(Division(np.array([0.0, 96.0]), (0,), 0.0), evidence, ()), loom).tolist() == [may]


def test_dark_seams_between_ribbons_are_no_stripes():
    """Ribbons sewn on one by one have a shadow between them; a plain one is known for all that."""
    names = ("sea-medal", "long-service", "valour-cross", "jubilee")
    strip = strip_of(*names)
    wide = strip.pixels.shape[1]
    apart = np.abs((np.arange(wide) + wide / 8) % (wide / 4) - wide / 8)  # from the nearest seam
    shade = 1.0 - 0.95 * np.exp(-apart / 8.0)
    dark = Strip((strip.pixels * shade[None, :, None]).astype(np.float32), np.eye(3), 1.0)
    row = read_bar([dark], BANK).rows[0]
    assert [(one.candidates[0].award, one.status) for one in row] == [
        (f"calder/{name}", "identified") for name in names
    ]
