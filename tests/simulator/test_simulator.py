"""The simulator must be trusted before anything is measured with it."""

from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from ribbonbar.spec.draw import weave
from ribbonbar.spec.model import Colour, Ribbon, Rule, Stripe
from ribbonbar.spec.reader import read_specification
from tests.simulator import invent, simulate, toml
from tests.simulator.bar import Bar, Mounted, judge, mount, random_bar, relation, twins_of
from tests.simulator.catalogue import invent_unknown, nearness, sketch
from tests.simulator.cloth import Wear, bar_patch, lay_out
from tests.simulator.colour import difference, dye_lot, encode, light_of
from tests.simulator.scene import Light, View, pose

CATALOGUE = invent(3, 60)
ORDER = "sim-3/land-service"


@pytest.mark.parametrize("level", [1, 2, 3, 4])
def test_the_same_seed_takes_the_same_photograph(level: int):
    """Everything is drawn from the seed: the file is the same to the byte, another seed's is not."""
    first, again, other = (simulate(level, seed, CATALOGUE) for seed in (5, 5, 6))
    assert first.jpeg == again.jpeg
    assert first.truth == again.truth
    assert first.jpeg != other.jpeg


@pytest.mark.parametrize("level", [1, 2, 3, 4])
def test_every_ribbon_lies_where_the_truth_says(level: int):
    """Made flat by its quad of the truth file, a ribbon shows its own stripes where they belong."""
    agreement = []
    for seed in range(2):
        shot = simulate(level, seed, CATALOGUE, fading=0.0, dirt=0.0, ev=0.0, mirrored=False, kelvin=5500.0)
        for mounted, ribbon in zip(shot.bars[0].ribbons, shot.truth["bars"][0]["ribbons"], strict=True):
            drawn = sketch(mounted.ribbon, 64, 1)[0, :, 0]
            if mounted.ribbon.shape == "stripes" and np.ptp(drawn) > 30 and not mounted.emblems:
                drawn = drawn[::-1] if mounted.reversed else drawn
                goal = np.float32([[0, 0], [512, 0], [512, 128], [0, 128]])
                flat = cv2.getPerspectiveTransform(np.float32(ribbon["corners"]), goal)
                large = cv2.warpPerspective(shot.pixels, flat, (512, 128))
                seen = rgb2lab(cv2.resize(large, (64, 16), interpolation=cv2.INTER_AREA) / 255.0)[4:12, :, 0].mean(0)
                agreement.append(np.corrcoef(seen, drawn)[0, 1])
    assert len(agreement) > 2
    assert np.median(agreement) > 0.93
    assert min(agreement) > 0.5


def test_mirrored_and_upside_down_pictures_are_turned_with_their_truth():
    """The turned picture is the plain one turned, and its quads hold the same pixels' mirror images."""
    plain = simulate(2, 9, CATALOGUE, mirrored=False)
    for turned, flip in (
        (simulate(2, 9, CATALOGUE, mirrored=True), np.s_[:, ::-1]),
        (simulate(2, 9, CATALOGUE, mirrored=False, upside_down=True), np.s_[::-1, ::-1]),
    ):
        gap = np.abs(turned.pixels[flip].astype(int) - plain.pixels).mean()
        assert gap < 2  # JPEG blocks fall differently
        ribbons = {r["award"]: r for r in plain.truth["bars"][0]["ribbons"] if r["award"]}
        height, width = plain.pixels.shape[:2]
        for ribbon in turned.truth["bars"][0]["ribbons"]:
            if ribbon["award"]:
                middle = np.mean(ribbon["corners"], 0)
                back = np.array([width, height]) - 1 - middle if turned.truth["upside_down"] else middle
                back = np.array([width - 1 - middle[0], middle[1]]) if turned.truth["mirrored"] else back
                assert np.abs(back - np.mean(ribbons[ribbon["award"]]["corners"], 0)).max() < 1
            xy = np.array(ribbon["corners"])
            assert xy[0][0] < xy[1][0] and xy[0][1] < xy[3][1], "corners run clockwise from top left as seen"


def test_woven_cloth_has_the_specifications_colours():
    """Unworn cloth in white light shows the same colours as the specification's own drawing, shading aside.

    The two are written apart; what is compared is chromaticity, because ribs and edges only darken.
    """
    light = Light(np.full(3, 0.2), np.full(3, 0.8), (0.0, -0.3, 0.95), 1.0)
    rng = np.random.default_rng(1)
    for award in list(CATALOGUE.awards.values())[:20]:
        ribbon = award.ribbons[0]
        if ribbon.shape != "stripes" or ribbon.frame or any(s.start != s.end for s in ribbon.stripes):
            continue
        bar = Bar(ORDER, ((Mounted(award.key, ribbon),),))
        rows = lay_out(bar, Wear(lot=(0.0, 0.0), slack=0.0), rng)
        patch = bar_patch(rows, 2.0, Wear(lot=(0.0, 0.0), slack=0.0), light, 8.0, rng)
        margin = round(1.2 * 8)
        seen = patch.rgb[margin + 24 : margin + 56, margin : margin + round(ribbon.width_mm * 8)].mean(0)
        drawn = weave(ribbon, seen.shape[0], 4)[0]
        for stripe in range(6, seen.shape[0] - 6, 5):
            near = drawn[stripe - 5 : stripe + 6]
            if np.abs(near - drawn[stripe]).max() < 0.01:  # well inside a stripe
                scale = seen[stripe].sum() / drawn[stripe].sum()
                assert 0.6 < scale < 1.15
                assert difference(lab(seen[stripe] / scale), lab(drawn[stripe])) < 3


def lab(linear: np.ndarray) -> np.ndarray:
    return rgb2lab(encode(np.clip(linear, 0, 1))[None, None])[0, 0]


def test_a_dye_lot_is_as_far_off_as_asked():
    """Another lot of a dye departs by the CIEDE2000 asked for (scikit-image's CIEDE2000)."""
    rng = np.random.default_rng(2)
    for wanted in (2.0, 4.0, 6.0):
        moved = [dye_lot(np.array([40.0, 30.0, 10.0]), wanted, rng) for _ in range(20)]
        reached = deltaE_ciede2000(np.array([[40.0, 30.0, 10.0]] * 20), np.array(moved))
        assert np.median(np.abs(reached - wanted)) < 0.2


@pytest.mark.parametrize(("kelvin", "x", "y"), [(2856, 0.4476, 0.4074), (6504, 0.3135, 0.3237), (4000, 0.3805, 0.3768)])
def test_lights_have_the_colour_of_their_temperature(kelvin: float, x: float, y: float):
    """Black bodies' chromaticities; 2856 K is illuminant A (CIE 15), the others on the Planckian locus, from memory."""
    to_xyz = np.linalg.inv([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
    xyz = to_xyz @ light_of(kelvin)
    assert xyz[0] / xyz.sum() == pytest.approx(x, abs=0.003)
    assert xyz[1] / xyz.sum() == pytest.approx(y, abs=0.003)


def test_the_camera_sees_the_plane_in_perspective():
    """Looked at straight on, a millimetre is focal length over distance in pixels; what is higher is larger."""
    camera = pose(1000, 800, 1200.0, 600.0, 0.0, 0.0, 0.0, (0.0, 0.0))
    view = View(camera, (0, 0, 1000, 800))
    assert view.density_at() == pytest.approx(2.0)
    assert view.density_at(0, 0, 100.0) == pytest.approx(1200 / 500)
    x, y = view.grid()
    assert (x[400, 500], y[400, 500]) == pytest.approx((0.25, 0.25), abs=1e-3)


def test_a_catalogue_holds_what_was_asked():
    """The number of awards, three orders of wear, look-alikes near and all others well apart, shared ribbons known."""
    assert len(CATALOGUE.awards) == 60
    assert sorted(o.ribbons_per_row for o in CATALOGUE.orders.values()) == [3, 4, 5]
    large = invent(1, 300)
    assert twins_of(large)
    sketches = np.stack([sketch(a.ribbons[0]) for a in large.awards.values()])
    nearest = [nearness(a.ribbons[0], np.delete(sketches, i, 0)) for i, a in enumerate(large.awards.values())]
    assert 0.05 < np.mean(np.array(nearest) < 8) < 0.35


def test_an_unknown_ribbon_is_far_from_every_known_one():
    """A strange ribbon keeps its distance from the catalogue: 20 at least, or 9 to 16 where it is to be near."""
    rng = np.random.default_rng(4)
    known = np.stack([sketch(a.ribbons[0]) for a in CATALOGUE.awards.values()])
    assert nearness(invent_unknown(rng, CATALOGUE, near=False), known) >= 20
    assert 9 <= nearness(invent_unknown(rng, CATALOGUE, near=True), known) <= 16


def test_a_written_catalogue_reads_back_the_same(tmp_path):
    """The TOML writer's file gives the reader the same awards, ribbons and orders."""
    path = tmp_path / "catalogue.toml"
    path.write_text(toml.write(CATALOGUE), encoding="utf-8")
    read = read_specification([path])
    assert {k: a.name for k, a in read.awards.items()} == {k: a.name for k, a in CATALOGUE.awards.items()}
    assert {k: [(g.id, g.sequence, g.awards) for g in o.groups] for k, o in read.orders.items()} == {
        k: [(g.id, g.sequence, g.awards) for g in o.groups] for k, o in CATALOGUE.orders.items()
    }
    for key, award in CATALOGUE.awards.items():
        for mine, theirs in zip(award.ribbons, read.awards[key].ribbons, strict=True):
            assert (mine.shape, mine.width_mm, mine.angle) == (theirs.shape, theirs.width_mm, theirs.angle)
            assert np.abs(sketch(mine) - sketch(theirs)).max() < 1


def listed(number: int) -> list[str]:
    group = next(g for g in CATALOGUE.orders[ORDER].groups if g.id == "long-service")
    return list(group.awards[:number])


def test_a_bar_in_the_listed_sequence_is_in_order():
    """Given awards of a listed group as listed, nothing is out of place."""
    judged = judge(mount(listed(3), ORDER, CATALOGUE), CATALOGUE)
    assert (judged.outcome, judged.out_of_place) == ("in-order", ((),))


def test_one_swapped_pair_leaves_the_choice_which_to_move():
    """Given two neighbours swapped, moving either one puts the bar right."""
    first, second, third = listed(3)
    judged = judge(mount([second, first, third], ORDER, CATALOGUE), CATALOGUE)
    assert (judged.outcome, judged.out_of_place) == ("out-of-order", (("1.1",), ("1.2",)))


def test_an_unknown_ribbon_leaves_the_bar_unconfirmed():
    """A strange ribbon proves nothing wrong, but the sequence cannot be confirmed."""
    strange = Stripe(Colour("x", (50.0, 0.0, 0.0), "memory"), Colour("x", (50.0, 0.0, 0.0), "memory"), 1.0)
    known = mount(listed(2), ORDER, CATALOGUE).rows[0]
    odd = Mounted(None, Ribbon("x", "stripes", (strange,), 32.0, 10.0), unknown="unknown-1")
    assert judge(Bar(ORDER, ((known[0], odd, known[1]),)), CATALOGUE).outcome == "unconfirmed"


def test_campaigns_go_by_their_days():
    """In a by-date group the earlier campaign goes first; where the days overlap, nothing is known."""
    order = CATALOGUE.orders[ORDER]
    campaigns = next(g for g in order.groups if g.sequence == "by-date").awards
    for a in campaigns:
        for b in campaigns:
            first, second = CATALOGUE.awards[a].earned, CATALOGUE.awards[b].earned
            answer = relation(a, b, order, CATALOGUE)
            if a == b:
                assert answer == 0
            elif first.end < second.start:
                assert answer == -1
            elif second.end < first.start:
                assert answer == 1
            else:
                assert answer is None


def test_a_broken_rule_puts_a_bar_out_of_order():
    """Two that exclude each other: either is too many. One without the other it needs: a stranger may be that one."""
    first, second, third = listed(3)
    bar = mount([first, second], ORDER, CATALOGUE)
    alone = replace(CATALOGUE, rules=(Rule("not-together", (first, second), ""),))
    assert judge(bar, alone).out_of_place == (("1.1",), ("1.2",))
    needing = replace(CATALOGUE, rules=(Rule("needs", (second, third), ""),))
    assert judge(bar, needing).out_of_place == (("1.2",),)
    assert judge(mount([first, second, third], ORDER, CATALOGUE), needing).outcome == "in-order"
    strange = Mounted(None, bar.ribbons[0].ribbon, unknown="unknown-1")
    assert judge(Bar(ORDER, ((strange, bar.ribbons[1]),)), needing).outcome == "unconfirmed"


def test_no_rule_of_its_order_forbids_a_random_bar():
    """What stands on it may be worn together, and on a ribbon bar; in which sequence is another matter."""
    awards = [a for group in CATALOGUE.orders[ORDER].groups for a in group.awards]
    rules = tuple(Rule("not-together", pair, "") for pair in pairwise(awards))
    worn = {key: replace(award, worn_elsewhere="neck") if key == awards[0] else award
            for key, award in CATALOGUE.awards.items()}  # fmt: skip
    strict = replace(CATALOGUE, rules=rules, awards=worn)
    for seed in range(40):
        held = {m.award for m in random_bar(strict, 2, np.random.default_rng(seed), ORDER).ribbons}
        assert awards[0] not in held
        assert not any(held >= set(rule.awards) for rule in rules)


def test_random_bars_are_of_every_outcome():
    """Over many seeds bars come in order, out of order and unconfirmed, with reversed ribbons and emblems."""
    bars = [random_bar(CATALOGUE, 3, np.random.default_rng(seed)) for seed in range(60)]
    assert {judge(bar, CATALOGUE).outcome for bar in bars} == {"in-order", "out-of-order", "unconfirmed"}
    assert any(m.reversed for bar in bars for m in bar.ribbons)
    assert {e for bar in bars for m in bar.ribbons for e in m.emblems} == {"rosette", "star", "oak-leaf", "numeral"}
