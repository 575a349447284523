"""Rows whose ends were found wrong: the best chain of ribbons along the strip, against trying everything."""

from dataclasses import replace
from itertools import product
from math import exp, inf

import numpy as np
import pytest

from ribbonbar.photo.model import Strip
from ribbonbar.reading import regain
from ribbonbar.reading.decode import DecodedRow, quick_evidence, quick_of, set_up, shine_on
from ribbonbar.reading.light import NEUTRAL, Light
from ribbonbar.reading.observe import outline, view
from ribbonbar.reading.segment import Division
from ribbonbar.reading.templates import COLUMNS, bank_of
from tests.reading.cloth import RIBBONS, catalogue, strip_of, woven_strip
from tests.reading.strips import PER_MM, evidence_of, seen_on


def plain_chain(row, scale: float, shone) -> tuple[float, list[float], list[int]]:
    """The best chain of neighbours: every ribbon tried at every half millimetre, what was reached remembered."""
    loom, columns = shone.loom, row.cells.shape[1]
    places = [1.5 * n for n in range(int(columns / 1.5 + 1e-9) + 1)]
    worth: dict[tuple[int, int], float] = {}
    for c, nominal in enumerate(loom.classes):
        width = scale * nominal
        starts = [p for p in places if p + width <= columns + 1.5]
        evidence = evidence_of(row, starts, [p + width for p in starts], shone)
        off = np.log(loom.classes[loom.width_class] / nominal) / 0.03
        structure = regain._unlike_ground(outline(row, np.array(starts), np.array(starts) + width).profile)
        for n, start in enumerate(starts):
            outside = max(row.start - start, 0) + max(start + width - row.end, 0) > 0.3 * width
            told = evidence[n] - 0.5 * off**2
            told = told[loom.stripes > 1] if outside else told
            gained = max(float(told.max()) + 90.0, 0.0) * width / (PER_MM * loom.classes[0])
            if outside:
                gained = min(gained, float(structure[n]))
                if gained <= 0:
                    continue
            worth[c, n] = gained - (2.5 if c else 0.0) - 2.0

    def moved(inward: float) -> float:
        return min(abs(inward) / PER_MM * 3.0, 30.0 if inward > 0 else 60.0)

    best = [(-moved(p - row.start), None) for p in places]
    for stop in range(len(places)):
        for c, nominal in enumerate(loom.classes):
            for slack in (-2, -1, 0, 1, 2):
                start = stop - max(round(scale * nominal / 1.5), 2) + slack
                if start >= 0 and (c, start) in worth and best[start][0] + worth[c, start] > best[stop][0]:
                    best[stop] = (best[start][0] + worth[c, start], (start, c))
    ended = [(score - moved(row.end - p) if came else -inf) for p, (score, came) in zip(places, best, strict=True)]
    at = int(np.argmax(ended))
    score, edges, classes = ended[at], [places[at]], []
    while best[at][1]:
        at, c = best[at][1]
        edges.append(places[at])
        classes.append(c)
    return score, edges[::-1], classes[::-1]


@pytest.mark.parametrize(
    ("names", "found", "scale"),
    [
        (("harbour-star", "long-service"), (0.0, -12.0), 3.0),
        (("harbour-star", "order-of-merit"), (13.0, 0.0), 2.95),
        (("jubilee", "sea-medal"), (-18.0, 14.0), 3.05),
        (("valour-cross", "harbour-star"), (6.0, -40.0), 3.0),
        (("valour-cross", "long-service"), (7.0, 0.0), 3.0),  # a plain ribbon cut short by less than three tenths
        (("long-service", "valour-cross"), (0.0, -11.0), 3.0),  # and by more
        (("polar-medal", "flying-cross"), (-30.0, 30.0), 3.0),
    ],
)
def test_the_best_chain_of_ribbons_is_found(shone, names, found, scale):
    """On a strip whose ends were found wrong, with ground beyond them, as trying everything finds it."""
    row = seen_on(25.0, *names, found=found)
    score, edges, classes = regain._best_chain(row, scale, shone.loom, shone.quick)
    plain = plain_chain(row, scale, shone)
    assert score == pytest.approx(plain[0], abs=0.05)
    assert list(edges) == pytest.approx(plain[1])
    assert list(classes) == plain[2]


def test_a_ribbon_of_no_width_in_the_catalogue_pays_for_its_width(shone):
    """Woven 35 mm wide, between the catalogue's 32 and 38: read as either, at a price."""
    between = replace(RIBBONS["harbour-star"], width_mm=35.4)
    wide = replace(RIBBONS["sea-medal"], width_mm=38.0)
    strip = woven_strip([(between, False), (wide, False)])
    row = seen_on(20.0, strip=strip, found=(0.0, -12.0))
    score, edges, classes = regain._best_chain(row, 3.0, shone.loom, shone.quick)
    plain = plain_chain(row, 3.0, shone)
    assert score == pytest.approx(plain[0], abs=0.05)
    assert (list(edges), list(classes)) == (pytest.approx(plain[1]), plain[2])
    assert 1 in classes


@pytest.mark.parametrize("names", [("harbour-star",), ("harbour-star", "long-service")])
def test_a_chain_may_fill_the_strip_from_end_to_end(shone, names):
    """Without any ground the ribbons begin with the first column and end with the last."""
    row = seen_on(0.0, *names)
    score, edges, classes = regain._best_chain(row, 3.0, shone.loom, shone.quick)
    plain = plain_chain(row, 3.0, shone)
    assert score == pytest.approx(plain[0], abs=0.05)
    assert list(edges) == pytest.approx(plain[1])
    assert (edges[0], edges[-1]) == (0.0, row.cells.shape[1])
    assert len(classes) == len(names)


def test_templates_are_looked_for_at_every_millimetre(loom, shone):
    """Three columns averaged into one, each template at its own width: the twelve likeliest of a width at each place
    and scale, unless they are hopeless there; nothing else is slid."""
    row = seen_on(15.0, "polar-medal", "order-of-merit", found=(10.0, 0.0))
    wanted = set()
    for scale, (width_class, width_mm) in product((2.8, 3.1), enumerate(loom.classes)):
        own = np.flatnonzero(loom.width_class == width_class)
        start = 0.0
        while start <= row.cells.shape[1] - scale * width_mm:
            seen = outline(row, np.array([start]), np.array([start + scale * width_mm])).coarser(3)
            evidence = quick_evidence(seen, quick_of(loom, shone.light, by=3))[0, own]
            wanted |= {int(own[t]) for t in np.argsort(-evidence)[:12] if evidence[t] > -120.0}
            start += 3.0
    assert set(regain._likely(row, np.array([2.8, 3.1]), shone).tolist()) == wanted
    assert {*loom.width_class[list(wanted)]} == {0, 1}


def test_where_no_template_is_likely_the_row_is_left_as_it_is(shone, monkeypatch):
    """Nothing to slide, nothing found."""
    row = seen_on(10.0, "harbour-star", "long-service")
    broken = row_of(row, [0, 30, 64], (0, 0), (-20.0, -200.0))
    monkeypatch.setattr(regain, "_likely", lambda *a: np.empty(0, int))
    assert regain._regained(broken, row, np.array([2.9, 3.0, 3.1]), 12.0, shone) is broken


def test_every_third_scale_says_which_templates_are_slid(shone, monkeypatch):
    """Of three the middle one; of nine the second, the fifth and the eighth."""
    row = seen_on(10.0, "harbour-star", "long-service")
    broken = row_of(row, [0, 30, 64], (0, 0), (-20.0, -200.0))
    asked = []
    monkeypatch.setattr(regain, "_likely", lambda row, scales, shone: asked.append(scales.tolist()) or np.array([0]))
    monkeypatch.setattr(regain, "_best_chain", lambda *a: (-inf, np.zeros(1), ()))
    for scales in (np.arange(3.0), np.arange(9.0)):
        regain._regained(broken, row, scales, 12.0, shone)
    assert asked == [[1.0], [1.0, 4.0, 7.0]]


def test_a_small_catalogue_is_slid_whole():
    """Where there are fewer templates than are worth sliding, all that are on the strip are slid."""
    few = shine_on(set_up(bank_of(catalogue("harbour-star", "long-service")), 6.0), NEUTRAL)
    assert list(regain._likely(seen_on(10.0, "harbour-star", "long-service"), np.array([3.0]), few)) == [0, 1]


def test_a_width_without_templates_explains_nothing(loom, shone):
    """Of a choice of templates that leaves out the wide ribbon, nothing speaks for a wide one."""
    narrow = shone.quick.pick(np.flatnonzero(loom.width_class == 0)[:3])
    best = narrow.best_of_class(np.array([[-5.0, -3.0, -4.0]]), 2)
    assert best.tolist() == [[-3.0, -inf]]


def test_ground_under_uneven_light_is_no_ribbon(shone):
    """A shadow that falls off evenly has no structure; a striped ribbon has much, and a faint seam too little."""
    row = seen_on(40.0, "harbour-star")
    width = row.cells.shape[1]
    ramp = np.linspace(0.2, 0.9, width, dtype=np.float32)

    def structure(profile: np.ndarray) -> float:
        changed = type(row)(**(vars(row) | {"profile": at_channels(row.profile, profile)}))
        return float(regain._unlike_ground(outline(changed, np.array([120.0]), np.array([216.0])).profile)[0])

    assert structure(np.repeat(ramp[:, None], 3, axis=1)) == 0.0
    assert structure(np.full((width, 3), 0.4, np.float32)) == 0.0
    seam = np.full((width, 3), 0.4, np.float32)
    seam[160:164] = 0.3
    assert structure(seam) == 0.0
    # a step of height h in each of three channels, freed of mean and slope, leaves h²/4 · (1 - 3/4) a cell and channel
    for height in (0.2, 0.4, 0.6):
        step = np.full((width, 3), 0.3, np.float32)
        step[168:] += height
        cells = COLUMNS // 2
        left = 3 * cells * height**2 / 4 * (1 - 3 / 4)
        expected = max(0.5 * left / (0.045**2 * 6.0 * cells / COLUMNS) - 25.0, 0.0)
        assert structure(step) == pytest.approx(expected, rel=0.03, abs=0.5)


def at_channels(like: np.ndarray, profile: np.ndarray) -> np.ndarray:
    """``profile`` (W, 3) laid out as ``like``."""
    return profile if like.shape == profile.shape else np.ascontiguousarray(profile.T)


def row_of(row, edges_mm, classes, evidence) -> DecodedRow:
    edges = row.start + np.array(edges_mm) * PER_MM
    return DecodedRow(Division(edges, classes, 0.0), np.array([[e, -500.0] for e in evidence]), ())


def test_what_a_division_is_worth(loom):
    """What each ribbon is above -90, by its share of a nominal width; less 2.5 for an odd width, 2 for each ribbon, and
    3 for every millimetre an end is moved, at most 60 outward and 30 inward; and what structure is left out."""
    row = seen_on(30.0, "harbour-star", "order-of-merit")
    even = row_of(row, [0, 32, 70], (0, 1), (-30.0, -120.0))
    assert regain._worth(even, row, loom) == pytest.approx(60.0 - 2.5 - 4.0, abs=0.2)
    moved = row_of(row, [4, 36, 74], (0, 0), (-30.0, -80.0))
    assert regain._worth(moved, row, loom) == pytest.approx(60.0 + 10.0 * 38 / 32 - 4.0 - 12.0 - 12.0, abs=0.2)
    far = row_of(row, [-25, 7, 45], (0, 0), (-30.0, -90.0))
    beyond = regain._unlike_ground(outline(row, row.start + np.array([45.0]) * PER_MM, np.array([row.end])).profile)
    assert 0.0 < beyond[0] < 60.0
    assert regain._worth(far, row, loom) == pytest.approx(60.0 - 4.0 - 60.0 - 30.0 - beyond[0], abs=0.2)


@pytest.mark.parametrize(("weakest", "sound"), [(-59.0, True), (-61.0, False)])
def test_a_row_of_well_recognised_ribbons_is_left_alone(shone, monkeypatch, weakest, sound):
    """Each above -60; one that is not has the whole row looked at again."""
    row = seen_on(10.0, "harbour-star", "long-service")
    known = row_of(row, [0, 32, 64], (0, 0), (-20.0, weakest))
    looked = []
    monkeypatch.setattr(regain, "_regained", lambda *a: looked.append(a) or a[0])
    assert regain.regain([known], [row], shone) == [known]
    assert bool(looked) == (not sound)


def test_the_scales_tried_are_those_of_sound_rows(shone, monkeypatch):
    """Three per cent around the median of their ribbons'; without one, nine scales over two and a half times what rows
    differ by. The chain must be better by 12, and by 25 where no sound row vouches for the scale."""
    row = seen_on(10.0, "harbour-star", "long-service")
    broken = row_of(row, [0, 32, 64], (0, 0), (-20.0, -200.0))
    sound = [row_of(row, [0, n, 2 * n], (0, 0), (-20.0, -20.0)) for n in (31.0, 32.0, 34.0)]
    asked = []
    monkeypatch.setattr(regain, "_regained", lambda *a: asked.append(a[2:4]) or a[0])
    regain.regain([broken, *sound], [row] * 4, shone)
    regain.regain([broken], [row], shone)
    (near, gain), (wide, alone) = asked
    assert (gain, alone) == (12.0, 25.0)
    assert near == pytest.approx([2.91, 3.0, 3.09])
    assert wide == pytest.approx([3.0 * exp(0.09 * (-2.4 + 0.6 * n)) for n in range(9)])


@pytest.mark.parametrize(("wide", "weakest", "gain"), [
    (30.5, -20.0, None), (29.5, -20.0, 8.3), (34.8, -20.0, 8.1), (16.0, -20.0, -48.0), (32.0, -70.0, 25.0),
    (32.0, -95.0, 12.0),
])  # fmt: skip
def test_a_row_of_another_scale_than_the_bars_is_looked_at_again(shone, monkeypatch, wide, weakest, gain):
    """Seven per cent off, its ends are likely wrong however well it is recognised: the further off, the less a
    chain must be better, a millimetre on 32 being what widths differ by. A row of the bar's scale that is recognised,
    if not well, needs twice as much to be divided anew."""
    row = seen_on(10.0, "harbour-star", "long-service")
    short = row_of(row, [0, wide, 2 * wide], (0, 0), (-20.0, weakest))
    long = row_of(row, 32.0 * np.arange(9), (0,) * 8, (-20.0,) * 8)
    asked = []
    monkeypatch.setattr(regain, "_regained", lambda *a: asked.append(a[3]) or a[0])
    regain.regain([short, long], [row] * 2, shone)
    assert asked == ([pytest.approx(gain, abs=0.1)] if gain else [])


@pytest.mark.parametrize(("better_by", "taken"), [(11.9, False), (12.1, True)])
def test_a_chain_must_be_better_by_so_much(shone, monkeypatch, better_by, taken):
    """Of several scales the best chain competes; no chain at all leaves the row as it is."""
    row = seen_on(10.0, "harbour-star", "long-service")
    broken = row_of(row, [0, 30, 64], (0, 0), (-20.0, -200.0))
    edges = row.start + np.array([0.0, 96.0, 192.0])
    chains = {2.9: (5.0, edges, (0, 0)), 3.0: (9.0, edges, (0, 0)), 3.1: (7.0, edges[:2], (0,))}
    monkeypatch.setattr(regain, "_best_chain", lambda row, scale, loom, templates: chains[scale])
    monkeypatch.setattr(regain, "_worth", lambda one, *rest: 100.0 if one is broken else 100.0 + better_by)
    found = regain._regained(broken, row, np.array([2.9, 3.0, 3.1]), 12.0, shone)
    assert (found is not broken) == taken
    if taken:
        assert len(found.division.classes) == 2
        assert np.abs(found.division.edges - edges).max() < 5.0
    none = dict.fromkeys(chains, (-inf, edges[:1], ()))
    monkeypatch.setattr(regain, "_best_chain", lambda row, scale, loom, templates: none[scale])
    assert regain._regained(broken, row, np.array([2.9, 3.0, 3.1]), 12.0, shone) is broken


def test_templates_worth_sliding_are_those_likely_somewhere(shone):
    """The ribbons that are on the strip are among them, wherever they lie; not the whole catalogue is."""
    row = seen_on(20.0, "harbour-star", "flying-cross", found=(10.0, -10.0))
    likely = regain._likely(row, np.array([3.0]), shone)
    names = {shone.loom.bank.patterns[shone.loom.pattern[t]].names[0][0] for t in likely}
    assert {"calder/harbour-star", "calder/flying-cross"} <= names
    assert list(likely) == sorted(set(likely))
    assert len(likely) <= len(shone.loom.pattern)
    one = seen_on(0.0, "harbour-star")
    single = regain._likely(one, np.array([one.cells.shape[1] / 32.0]), shone)
    named = {shone.loom.bank.patterns[shone.loom.pattern[t]].names[0][0] for t in single}
    assert named == {"calder/harbour-star"}  # one place only; all others are hopeless there


def test_a_bar_of_which_nothing_is_recognised_is_begun_afresh(loom):
    """Found a third of a ribbon short, and its light lost: the ribbons are found again, and the ends with them."""
    names = ("harbour-star", "flying-cross", "long-service")
    row = seen_on(20.0, *names, found=(0.0, -10.0))
    edges = np.linspace(row.start, row.end, 4)
    dim = shine_on(loom, Light(np.eye(3, dtype=np.float32) * 0.3, np.full(3, 0.3, np.float32)))
    division = Division(edges, (0, 0, 0), 0.0)
    broken = DecodedRow(division, quick_evidence(outline(row, edges[:-1], edges[1:]), dim.quick), (division,))
    assert regain.is_lost([broken])
    _, (found,) = regain.afresh([broken], [row], loom)
    assert not regain.is_lost([found])
    told = [loom.bank.patterns[loom.pattern[t]].names[0][0] for t in found.evidence.argmax(1)]
    assert told == [f"calder/{name}" for name in names]
    assert found.division.edges[-1] == pytest.approx(row.end + 10.0 * PER_MM, abs=3.0)


@pytest.mark.parametrize(("reach", "begins"), [((-60.0, 18.0), -16.0), ((-2.0, 76.0), 0.0)])
def test_a_short_row_does_not_stick_out_over_the_long_ones(shone, reach, begins):
    """White and sky on white cloth, and only the sky was found: it could as well be sky and white. The row below says
    on which side there is room."""
    ribbon = strip_of("polar-medal").pixels
    white = np.broadcast_to(ribbon[:, :3].mean((0, 1)), ribbon.shape).astype(np.float32)
    strip = Strip(np.concatenate([white, ribbon, white], axis=1), np.eye(3), 1.0, ends=(48 * 6.0, 64 * 6.0))
    row = view(replace(strip, reach=tuple(48 * 6.0 + 6.0 * mm for mm in reach)), 6.0)
    _, edges, _ = regain._best_chain(row, 3.0, shone.loom, shone.quick)
    assert (edges - row.start) / PER_MM == pytest.approx([begins, begins + 32.0], abs=3.0)


@pytest.mark.parametrize(("beyond", "read"), [("sea-medal", 3), ("valour-cross", 2), ("polar-medal", 2)])
def test_a_row_goes_on_as_far_as_ribbons_stand_in_plain_sight(shone, beyond, read):
    """Every ribbon of the row is known, and beyond its end stands one more; one without two edges of
    its own may be the ground and a lapel."""
    row = seen_on(3.0, "harbour-star", "jubilee", beyond, found=(0.0, -33.0))
    edges = row.start + PER_MM * np.array([0.0, 32.0, 64.0])
    evidence = quick_evidence(outline(row, edges[:-1], edges[1:]), shone.quick)
    division = Division(edges, (0, 0), 0.0)
    regained = regain.regain([DecodedRow(division, evidence, (division,))], [row], shone)
    assert len(regained[0].evidence) == read
