"""The decoder's steps one by one, each against the same sum done slowly, with the figures its documentation gives."""

from dataclasses import replace
from itertools import product
from math import exp, inf, log, sqrt
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ribbonbar.reading import decode, regain, weigh
from ribbonbar.reading.confidence import Look, looks, status_of
from ribbonbar.reading.decode import DecodedRow, holding_to, quick_evidence, quick_of, relit, set_up, shine_on
from ribbonbar.reading.decode import decode as decode_rows
from ribbonbar.reading.evidence import coarse_scatter, scatter_cost
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.observe import cut, fineness, outline, view
from ribbonbar.reading.segment import Division, divisions, width_classes
from ribbonbar.reading.templates import COLUMNS, ROWS, bank_of
from ribbonbar.reading.weigh import Weighed, any_dye
from ribbonbar.spec.model import Award, Specification
from tests.reading.cloth import GOLD, GREEN, NAVY, RED, RIBBONS, SKY, WHITE, catalogue, ribbon, strip_of, woven_strip

PER_MM = 3  # columns a nominal millimetre


@pytest.fixture(scope="module")
def loom():
    return set_up(bank_of(catalogue()), 6.0)


@pytest.fixture(scope="module")
def shone(loom):
    return shine_on(loom, NEUTRAL)


def seen_on(ground_mm: float, *names: str, found: tuple[float, float] | None = None, strip=None):
    """A row of these ribbons on dark ground that goes on to both sides; ``found`` in mm from the ribbons' true ends."""
    strip = strip or strip_of(*names)
    height, width = strip.pixels.shape[:2]
    ground = np.full((height, round(ground_mm * 6), 3), 0.05, np.float32)
    pixels = np.concatenate([ground, strip.pixels, ground], axis=1)
    left, right = found or (0.0, 0.0)
    ends = (ground.shape[1] + left * 6, ground.shape[1] + width + right * 6)
    strip = type(strip)(pixels, np.eye(3), 1.0, ends=ends)
    return view(strip, fineness([strip]))


def evidence_of(row, starts, ends, shone) -> np.ndarray:
    return quick_evidence(outline(row, np.asarray(starts, float), np.asarray(ends, float)), shone.quick)


# Every way to divide a row


def all_divisions(length_mm: float, classes: list[float]) -> dict[tuple[int, ...], float]:
    """Log prior of each sequence of widths: at most ten ribbons, at most two of them odd among common ones unless
    all are of one width, the row's length within three and a half times nine per cent of theirs."""
    found = {}
    for count in range(1, 11):
        for sequence in product(range(len(classes)), repeat=count) if count <= 8 else []:
            odd = sum(c > 0 for c in sequence)
            alike = len(set(sequence)) == 1
            if not alike and (odd > 2 or odd == count):
                continue
            off = log(length_mm / sum(classes[c] for c in sequence)) / 0.09
            if abs(off) > 3.5 or abs(log(length_mm / (count * classes[0]))) > 4.5 * 0.09:
                continue
            found[sequence] = -0.5 * off**2 - 2.5 * (1 if alike and odd else odd)
    return found


@pytest.mark.parametrize("classes", [[32.0], [32.0, 38.0], [35.0, 28.0, 44.0]])
@pytest.mark.parametrize("length_mm", [31.0, 66.0, 101.0, 127.0, 134.0, 176.0])
def test_a_row_is_divided_in_every_way_its_length_allows(classes, length_mm):
    """Each once, its edges in proportion, likelier the nearer it comes to the nominal widths and the fewer are odd."""
    start = 20.0
    found = divisions(start, start + length_mm * PER_MM, PER_MM, np.array(classes))
    wanted = all_divisions(length_mm, classes)
    assert len(found) == len({one.classes for one in found})
    assert {one.classes for one in found} == set(wanted)
    for one in found:
        assert one.log_prior == pytest.approx(wanted[one.classes])
        widths = [classes[c] for c in one.classes]
        places = [start + length_mm * PER_MM * sum(widths[:n]) / sum(widths) for n in range(len(widths) + 1)]
        assert one.edges == pytest.approx(places)


def test_no_row_has_more_than_ten_ribbons_but_each_row_has_some():
    """A row of ten is divided into ten; one far beyond any bar is cut into ten equal parts, a scrap is one."""
    ten = divisions(0.0, 320.0 * PER_MM, PER_MM, np.array([32.0]))
    assert max(len(one.classes) for one in ten) == 10
    assert max(ten, key=lambda one: one.log_prior).classes == (0,) * 10
    (beyond,) = divisions(10.0, 10.0 + 2000.0 * PER_MM, PER_MM, np.array([32.0, 38.0]))
    assert beyond.classes == (0,) * 10
    assert np.diff(beyond.edges) == pytest.approx(600.0)
    assert beyond.edges[0] == 10.0
    (scrap,) = divisions(0.0, 8.0 * PER_MM, PER_MM, np.array([32.0]))
    assert scrap.classes == (0,)
    assert scrap.log_prior == 0.0
    (late,) = divisions(500.0, 500.0 + 8.0 * PER_MM, PER_MM, np.array([32.0]))  # wherever on the strip
    assert late.classes == (0,)


def test_a_catalogue_has_three_widths_at_most():
    """A width needs two ribbons in a hundred, and a millimetre and a half from every commoner one."""
    common = [32.0] * 60 + [38.0] * 20 + [25.0] * 10 + [45.0] * 8
    classes, of = width_classes(np.array([*common, 50.0, 51.0]))
    assert list(classes) == [32.0, 38.0, 25.0]
    assert [of[0], of[60], of[80], of[90], of[-1]] == [0, 1, 2, 1, 1]
    assert list(width_classes(np.array([32.01, 32.04] * 3 + [33.9] * 4))[0]) == [32.0, 33.9]  # to a tenth
    assert list(width_classes(np.array([32.0] * 98 + [38.0] * 2))[0]) == [32.0, 38.0]
    assert list(width_classes(np.array([32.0] * 99 + [38.0]))[0]) == [32.0]
    assert list(width_classes(np.array([32.0] * 10 + [33.5] * 8 + [33.6] * 7))[0]) == [32.0, 33.6]
    assert list(width_classes(np.linspace(20.0, 200.0, 61))[0])  # each width but once: one of them all the same


# One scale for a bar, one light


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_rows_agree_on_the_scale_that_suits_them_together(data):
    """Every division's scale is proposed; each row answers with its best division, five per cent off costing half a
    unit; eight divisions of each row are kept, the chosen one first."""
    loom, rows = SimpleNamespace(classes=np.array([32.0, 38.0])), []
    for _ in range(data.draw(st.integers(1, 3))):
        count = data.draw(st.integers(1, 12))
        widths = [tuple(data.draw(st.lists(st.integers(0, 1), min_size=1, max_size=4))) for _ in range(count)]
        lengths = [loom.classes[list(each)].sum() * data.draw(st.integers(280, 320)) / 100 for each in widths]
        choices = [Division(np.array([7.0, 7.0 + n]), w, 0.0) for n, w in zip(lengths, widths, strict=True)]
        scores = np.array([data.draw(st.integers(-40, 0)) + 0.001 * n for n in range(count)])
        members = [[n] for n in range(count)]
        rows.append(decode._Divided(choices, scores, members, np.arange(count)[:, None]))

    def scale(choice: Division) -> float:
        return log((choice.edges[-1] - choice.edges[0]) / sum(loom.classes[c] for c in choice.classes))

    def told(row, n: int, bar: float) -> float:
        return row.scores[n] - 0.5 * ((scale(row.choices[n]) - bar) / 0.05) ** 2

    offered = [scale(choice) for row in rows for choice in row.choices]
    joint = [sum(max(told(row, n, bar) for n in range(len(row.choices))) for row in rows) for bar in offered]
    decoded = decode._agreed(rows, loom)
    kept = []
    for row, one in zip(rows, decoded, strict=True):
        assert one.division is one.best[0]
        places = [next(n for n, choice in enumerate(row.choices) if choice is other) for other in one.best]
        assert len(places) == len(set(places)) == min(len(row.choices), 8)
        assert one.evidence.tolist() == [[places[0]]]
        kept.append(places)

    def suits(bar: float) -> bool:
        """Whether what was kept is what is likeliest at this scale, in that sequence."""
        for row, places in zip(rows, kept, strict=True):
            worth = [told(row, n, bar) for n in range(len(row.choices))]
            if not np.allclose([worth[n] for n in places], sorted(worth, reverse=True)[:8]):
                return False
        return True

    assert any(suits(bar) for bar, worth in zip(offered, joint, strict=True) if worth > max(joint) - 1e-9)


def test_a_division_is_worth_what_its_ribbons_explain(loom, shone):
    """The best template of about each ribbon's width, a template of another width paying for it, never below what says
    "unknown", by the ribbon's share of a nominal width, and the prior."""
    row = seen_on(4.0, "harbour-star", "order-of-merit", "valour-cross")
    choices = divisions(row.start, row.end, PER_MM, loom.classes)
    assert len(loom.classes) == 2
    found = decode._divide(row, choices, shone)
    for choice, score in zip(choices, found.scores, strict=True):
        total = choice.log_prior
        for c, start, end in zip(choice.classes, choice.edges, choice.edges[1:], strict=False):
            start, end = round(start * 2) / 2, round(end * 2) / 2
            (evidence,) = evidence_of(row, [start], [end], shone)
            off = np.log(loom.classes[loom.width_class] / loom.classes[c]) / 0.03
            best = max(float((evidence - 0.5 * off**2).max()), -250.0)
            total += best * (end - start) / (PER_MM * loom.classes[0])
        assert score == pytest.approx(total, abs=0.02)


def test_what_the_user_names_leaves_no_other_template(loom):
    """Rows and places are counted from one; an award that no template carries changes nothing."""
    count = len(loom.pattern)
    rows = [DecodedRow(Division(np.arange(n + 1.0), (0,) * n, 0.0), np.zeros((n, count)), ()) for n in (2, 1, 1)]
    given = {(1, 2): "calder/polar-medal", (2, 1): "calder/valour-cross", (3, 1): "calder/no-such-medal"}
    held = holding_to(given, rows, loom)

    def only(award: str) -> list[float]:
        own = [any(name == award for name, _ in loom.bank.patterns[p].names) for p in loom.pattern]
        assert sum(own) == (2 if award == "calder/polar-medal" else 1)  # that one both ways round
        return [0.0 if mine else -1e6 for mine in own]

    assert held[0].evidence.tolist() == [[0.0] * count, only("calder/polar-medal")]
    assert held[1].evidence.tolist() == [only("calder/valour-cross")]
    assert held[2].evidence.tolist() == [[0.0] * count]
    assert not rows[0].evidence.any()


def test_light_and_ribbons_are_found_in_four_turns(loom, monkeypatch):
    """First with the wide leeway of an unknown light, then four times with that of a known one."""
    leeways, lights = [], []
    divide, relight = decode._divide, decode.relit

    def spied(row, choices, shone):
        leeways.append(shone.quick.upright.leeway)
        return divide(row, choices, shone)

    monkeypatch.setattr(decode, "_divide", spied)
    monkeypatch.setattr(decode, "relit", lambda *a: lights.append(relight(*a)) or lights[-1])
    shone, rows = decode_rows([seen_on(4.0, "harbour-star", "long-service")], loom, {})
    assert shone is lights[-1]
    assert [(one.gain, one.offset, one.noise) for one in leeways] == [(0.30, 0.12, 0.06)] + [(0.12, 0.05, 0.045)] * 4
    named = [loom.bank.patterns[loom.pattern[t]].names[0][0] for t in rows[0].evidence.argmax(1)]
    assert named == ["calder/harbour-star", "calder/long-service"]


def test_templates_are_blurred_as_a_phone_would():
    """By one photo pixel, never by less than half a column, and no photograph is taken for coarser than 0.2 pixels."""
    bank = bank_of(catalogue())
    assert [set_up(bank, fine).blur for fine in (2.0, 12.0, 0.1)] == pytest.approx([1.5, 0.5, 15.0])


@pytest.mark.parametrize("best", [-20.0, -80.0, -140.0])
def test_every_ribbon_has_a_say_in_the_light(loom, shone, monkeypatch, best):
    """Its three likeliest templates by their share, together as much as is trusted in it: half at -80, never less than
    a twentieth; each ribbon's own brightness taken out; clipped cells marked."""
    row = seen_on(4.0, "harbour-star", "flying-cross", "valour-cross")
    row.clipped[:, :150] = 1.0
    edges = row.start + np.array([0.0, 32.0, 64.0, 96.0]) * PER_MM
    evidence = np.full((3, len(loom.pattern)), best - 50.0)
    upright = len(loom.vertical)
    evidence[0, [1, 3, upright, 4]] = best, best - 1.0, best - 2.0, best - 2.5
    evidence[1, [upright + 5, 2]] = best, best - 20.0
    evidence[2, [0, 2]] = best, best - 4.0
    told = []
    monkeypatch.setattr(decode, "fit_light", lambda *parts: told.append(parts) or NEUTRAL)
    relit([DecodedRow(Division(edges, (0, 0, 0), 0.0), evidence, ())], [row], shone)
    expected, seen, weight, clipped = told[0]

    segments = cut(row, edges[:-1], edges[1:])
    trust = max(1.0 / (1.0 + exp((-80.0 - best) / 15.0)), 0.05)
    at = 0
    for number, picks in enumerate([[1, 3, upright], [upright + 5], [0, 2]]):
        shares = [exp(0.5 * (evidence[number, t] - best)) for t in picks]
        for template, share in zip(picks, shares, strict=True):
            if template < upright:
                part = slice(3, -3, 4)
                x, y = loom.vertical[template][part], segments.profile[number][part]
                over = segments.seen_clipped[number][part] > 0.3
            else:
                part = (slice(None, None, 3), slice(3, -3, 8))
                x = loom.slanted(np.array([template - upright]))[0][part].reshape(-1, 3)
                y = segments.cells[number][part].reshape(-1, 3)
                over = segments.clipped[number][part].reshape(-1, 3) > 0.3
            lit = NEUTRAL.shine(x)
            brightness = sqrt(min(max(float((lit * y).sum() / (lit * lit).sum()), 0.6), 1.5))
            here = slice(at, at + len(x))
            assert expected[here] == pytest.approx(x)
            assert seen[here] == pytest.approx(y / brightness, rel=1e-4)
            assert clipped[here].tolist() == over.tolist()
            assert weight[here] == pytest.approx(trust * share / sum(shares) * 5.0 / len(x), rel=1e-3)
            at += len(x)
    assert at == len(expected)
    assert clipped.any()
    assert not clipped.all()


# Rows whose ends were found wrong


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
            gained = max(float((evidence[n] - 0.5 * off**2).max()) + 90.0, 0.0) * width / (PER_MM * loom.classes[0])
            if max(row.start - start, 0) + max(start + width - row.end, 0) > 0.3 * width:
                gained = min(gained, float(structure[n]))
                if gained <= 0:
                    continue
            worth[c, n] = gained - (2.5 if c else 0.0) - 2.0

    def moved(distance: float) -> float:
        return min(abs(distance) / PER_MM * 3.0, 60.0)

    best = [(-moved(p - row.start), None) for p in places]
    for stop in range(len(places)):
        for c, nominal in enumerate(loom.classes):
            for slack in (-2, -1, 0, 1, 2):
                start = stop - max(round(scale * nominal / 1.5), 2) + slack
                if start >= 0 and (c, start) in worth and best[start][0] + worth[c, start] > best[stop][0]:
                    best[stop] = (best[start][0] + worth[c, start], (start, c))
    ended = [(score - moved(p - row.end) if came else -inf) for p, (score, came) in zip(places, best, strict=True)]
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


def test_templates_are_looked_for_at_every_millimetre(shone):
    """Three columns averaged into one, the six likeliest at each place and scale; nothing else is slid."""
    row = seen_on(15.0, "polar-medal", "order-of-merit", found=(10.0, 0.0))
    wanted = set()
    for scale in (2.8, 3.1):
        width, start = scale * 32.0, 0.0
        while start <= row.cells.shape[1] - width:
            seen = outline(row, np.array([start]), np.array([start + width])).coarser(3)
            (evidence,) = quick_evidence(seen, quick_of(shone.loom, shone.light, by=3))
            wanted |= set(np.argsort(-evidence)[:6].tolist())
            start += 3.0
    assert set(regain._likely(row, np.array([2.8, 3.1]), shone).tolist()) == wanted


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
    """Where there are fewer templates than are worth sliding, all of them are."""
    few = shine_on(set_up(bank_of(catalogue("harbour-star", "long-service")), 6.0), NEUTRAL)
    assert list(regain._likely(seen_on(10.0, "harbour-star"), np.array([3.0]), few)) == [0, 1]


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
    3 for every millimetre an end is moved, at most 60."""
    row = seen_on(30.0, "harbour-star", "order-of-merit")
    even = row_of(row, [0, 32, 70], (0, 1), (-30.0, -120.0))
    assert regain._worth(even, row, loom) == pytest.approx(60.0 - 2.5 - 4.0, abs=0.2)
    moved = row_of(row, [4, 36, 74], (0, 0), (-30.0, -80.0))
    assert regain._worth(moved, row, loom) == pytest.approx(60.0 + 10.0 * 38 / 32 - 4.0 - 12.0 - 12.0, abs=0.2)
    far = row_of(row, [-25, 7, 45], (0, 0), (-30.0, -90.0))
    assert regain._worth(far, row, loom) == pytest.approx(60.0 - 4.0 - 60.0 - 60.0, abs=0.2)


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
    """Three per cent around their median; without one, nine scales over two and a half times what rows differ by. The
    chain must be better by 12, and by 25 where no sound row vouches for the scale."""
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
    assert len(single) == 6  # one place only, and the six likeliest there


# Weighing the few that remain


@pytest.fixture(scope="module")
def many():
    """A catalogue of twenty upright ribbons and one slanted one."""
    dyes = (NAVY, WHITE, RED, GREEN, GOLD, SKY)
    awards = {}
    for n in range(20):
        first, second = dyes[n % 6], dyes[(n + 1 + n // 6) % 6]
        key = f"calder/medal-{n}"
        awards[key] = Award(key, key, ribbons=(ribbon((first, 10 + n % 3), (second, 8 + n // 4), (first, 10 + n % 3)),))
    awards["calder/flying-cross"] = catalogue("flying-cross").awards["calder/flying-cross"]
    return set_up(bank_of(Specification(awards=awards)), 6.0)


@pytest.fixture
def one_ribbon():
    row = seen_on(0.0, "harbour-star")
    return cut(row, np.array([row.start]), np.array([row.end]))


def test_only_hopeful_templates_are_weighed(many, one_ribbon):
    """The quick comparison's best sixteen upright and twelve slanted ones, none more than 60 behind the best."""
    upright, count = len(many.vertical), len(many.pattern)
    quick = -np.arange(count, dtype=float)
    weighed = weigh.weigh(one_ribbon, 0, quick, many, NEUTRAL)
    assert {w.template for w in weighed} == {*range(16), *range(upright, min(upright + 12, count))}
    evidence = [w.log_evidence for w in weighed]
    assert evidence == sorted(evidence, reverse=True)
    quick = np.full(count, -100.0)
    quick[[3, 5, upright + 1]] = 0.0, -59.0, -61.0
    assert {w.template for w in weigh.weigh(one_ribbon, 0, quick, many, NEUTRAL)} == {3, 5}
    quick[[3, 5, upright + 1]] = -61.0, -61.5, 0.0
    assert {w.template for w in weigh.weigh(one_ribbon, 0, quick, many, NEUTRAL)} == {upright + 1}


class Spy:
    """Stands in for the structured evidence and keeps what it was asked."""

    def __init__(self, *lefts: np.ndarray) -> None:
        self.asked, self.lefts = [], list(lefts)

    def __call__(self, seen, weight, expected, cover, noise, columns, dye_spread=1.0, *more):
        self.asked.append((seen, np.array(weight), expected, noise, columns, dye_spread))
        left = self.lefts.pop(0) if self.lefts else np.full(expected.shape, 0.05)
        return np.zeros(len(expected)), left


def test_what_an_upright_ribbons_columns_count(many, one_ribbon, monkeypatch):
    """As many rows as are cloth; the outermost columns three tenths of it; a clipped channel a fiftieth where the
    template would be as bright or brighter. What the cells scatter about their column is taken off."""
    spy = Spy()
    monkeypatch.setattr(weigh, "structured_evidence", spy)
    one_ribbon.cloth[0, 2:5, 20:30] = 0.0
    one_ribbon.clipped[0, :, 10:15, 0] = 1.0
    one_ribbon.clipped[0, :3, 40:44, 1] = 1.0  # three rows of eight: more than three tenths
    one_ribbon.clipped[0, :2, 50:54, 1] = 1.0
    (first, second) = weigh._weigh_upright(one_ribbon, 0, np.array([2, 7]), many, NEUTRAL)
    ((seen, weight, expected, noise, columns, spread),) = spy.asked
    assert (noise, columns, spread) == (0.02, COLUMNS, 1.0)
    assert seen == pytest.approx(one_ribbon.profile[0])
    for t, x, channel in product(range(2), range(COLUMNS), range(3)):
        rows = 5 if 20 <= x < 30 else 8
        wanted = rows / ROWS * (0.3 if x in (0, COLUMNS - 1) else 1.0)
        clipped = (channel == 0 and 10 <= x < 15) or (channel == 1 and 40 <= x < 44)
        if clipped and expected[t, x, channel] > seen[x, channel] - 0.02:
            wanted *= 0.02
        assert weight[t, x, channel] == pytest.approx(wanted, rel=1e-4)
    assert (first.template, second.template) == (2, 7)
    assert first.left == pytest.approx(0.05)
    scatter = float(scatter_cost(coarse_scatter(one_ribbon.cells[0] - one_ribbon.profile[0]), 0.02))
    assert first.log_evidence == pytest.approx(-scatter, rel=1e-4)
    assert scatter > 0


@pytest.mark.parametrize(("darker", "little"), [(0.01, True), (0.03, False)])
def test_a_clipped_channel_says_little_of_a_template_about_as_bright(many, one_ribbon, monkeypatch, darker, little):
    """A fiftieth of light below what was seen counts as as bright still; upright and slanted alike."""
    spy = Spy()
    monkeypatch.setattr(weigh, "structured_evidence", spy)
    one_ribbon.clipped[:] = 1.0
    one_ribbon.cells[0] = NEUTRAL.shine(many.vertical[2]) + darker
    weigh._weigh_upright(one_ribbon, 0, np.array([2]), many, NEUTRAL)
    one_ribbon.cells[0] = NEUTRAL.shine(many.slanted(np.array([2]))[0]) + darker
    weigh._weigh_slanted(one_ribbon, 0, np.array([2]), many, NEUTRAL)
    upright, slanted = spy.asked[0][1], spy.asked[1][1]
    assert upright[0, 1:-1] == pytest.approx(0.02 if little else 1.0)
    assert slanted[0] == pytest.approx(0.02 if little else 1.0)


def test_a_slanted_ribbon_may_hide_a_fifth_of_its_cells(many, one_ribbon, monkeypatch):
    """Cells worse than the best four fifths, and than twice the noise, are taken for an emblem: they say nothing, and
    each costs what an outlier does. The rest decides."""
    cells = ROWS * COLUMNS // 4
    left = np.full((1, cells, 3), 0.03)
    left[0, :10, 1] = 0.3
    left[0, 10:20, 2] = -0.035  # worse than the rest, but within twice the noise
    again = np.full((1, cells, 3), 0.04)
    again[0, :10] = 9.0
    spy = Spy(left, again)
    monkeypatch.setattr(weigh, "structured_evidence", spy)
    one_ribbon.clipped[0, :, :8, 2] = 1.0
    (found,) = weigh._weigh_slanted(one_ribbon, 0, np.array([3]), many, NEUTRAL)
    (_, before, _, noise, columns, spread), (seen, after, expected, *_) = spy.asked
    assert (noise, columns, spread) == (0.02, COLUMNS // 2, 1.0)
    clips = np.zeros((ROWS // 2, COLUMNS // 2, 3), bool)
    clips[:, :4, 2] = True
    over = clips.reshape(cells, 3) & (expected[0] > seen - 0.02)
    assert before[0] == pytest.approx(np.where(over, 0.02, 1.0))
    assert over.any()
    assert (after[0, :10] == 0).all()
    assert after[0, 10:] == pytest.approx(before[0, 10:])
    assert found.template == len(many.vertical) + 3
    assert found.log_evidence == pytest.approx(-0.5 * 16.0 * 10 / (6.0 * cells / COLUMNS))
    assert found.left == pytest.approx(0.04)
    # where many cells are bad, only a fifth of them are let go
    left = np.linspace(0.05, 0.5, cells)[None, :, None] * np.ones(3)
    spy = Spy(left, left)
    monkeypatch.setattr(weigh, "structured_evidence", spy)
    weigh._weigh_slanted(one_ribbon, 0, np.array([3]), many, NEUTRAL)
    assert (spy.asked[1][1][0].max(-1) == 0).mean() == pytest.approx(0.2, abs=0.01)


def test_a_stranger_laid_out_alike_may_have_any_dyes(many, one_ribbon, monkeypatch):
    """Each dye may be further from the known ribbon's, nearly five times as far; upright and slanted alike."""
    spy = Spy()
    monkeypatch.setattr(weigh, "structured_evidence", spy)
    any_dye(one_ribbon, 0, 4, many, NEUTRAL)
    any_dye(one_ribbon, 0, len(many.vertical) + 2, many, NEUTRAL)
    assert [spread for *_, spread in spy.asked] == [4.7] * 3
    assert spy.asked[0][2] == pytest.approx(NEUTRAL.shine(many.vertical[[4]]))
    assert spy.asked[1][2].shape[1] == ROWS * COLUMNS // 4
    woven = NEUTRAL.shine(many.slanted(np.array([2]))[0])
    slanted = woven.reshape(ROWS // 2, 2, COLUMNS // 2, 2, 3).mean((1, 3)).reshape(-1, 3)
    assert spy.asked[1][2][0] == pytest.approx(slanted, rel=1e-4)


# From evidence to probability


def found_for(*evidence: float, free: float = -100.0, uneven: float = 0.0, stripes: int = 1, turned=None) -> list[Look]:
    weighed = [Weighed(n, e, 0.0) for n, e in enumerate(evidence)]
    count = len(evidence)
    turned = np.zeros(count, bool) if turned is None else np.array(turned)
    return looks(weighed, free, uneven, stripes, np.arange(count), turned)


def known(found: list[Look]) -> float:
    return sum(look.probability for look in found)


def test_evidence_between_two_ribbons_is_sharpened_to_odds():
    """One unit of log evidence is 1.3 of log odds; what the first has is shared by both and none is lost."""
    found = found_for(0.0, -1.0, -3.0)
    assert [look.pattern for look in found] == [0, 1, 2]
    assert [look.log_evidence for look in found] == [0.0, -1.0, -3.0]
    assert log(found[0].probability / found[1].probability) == pytest.approx(1.3)
    assert log(found[0].probability / found[2].probability) == pytest.approx(3.9)
    assert known(found) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(("stripes", "even"), [(1, 0.2), (2, 0.3), (5, 0.6), (6, 0.6), (12, 0.6)])
def test_a_ribbon_must_beat_the_free_model_by_so_much(stripes, even):
    """Plain: by 0.2 for even odds; each further stripe, five at most, a tenth more; 0.9 further on is odds of e."""
    assert known(found_for(-10.0, free=-10.0 - even, stripes=stripes)) == pytest.approx(0.5, abs=1e-3)
    better = known(found_for(-10.0, free=-10.9 - even, stripes=stripes))
    assert log(better / (1.0 - better)) == pytest.approx(1.0, abs=1e-3)
    assert known(found_for(-10.0, free=90.0, stripes=stripes)) < 1e-9


def test_what_differs_along_its_stripes_is_hardly_a_known_ribbon():
    """Even odds at 85, odds of e six less; nothing at all changes nothing."""
    assert known(found_for(0.0, uneven=85.0)) == pytest.approx(0.5, abs=1e-3)
    assert known(found_for(0.0, uneven=79.0)) == pytest.approx(1 / (1 + exp(-1)), abs=1e-3)
    assert known(found_for(0.0, uneven=0.0)) == pytest.approx(1.0, abs=1e-4)


def test_one_pattern_both_ways_round_is_two_looks_and_its_phases_one():
    """A diagonal counts once however many beginnings were tried, at its best; reversed it is another look."""
    weighed = [Weighed(n, e, 0.0) for n, e in enumerate((0.0, -0.5, -1.0, -2.0))]
    pattern, turned = np.array([4, 4, 4, 7]), np.array([False, False, True, False])
    found = looks(weighed, -100.0, 0.0, 2, pattern, turned)
    assert [(look.pattern, look.reversed, look.log_evidence) for look in found] == [
        (4, False, 0.0),
        (4, True, -1.0),
        (7, False, -2.0),
    ]


@pytest.mark.parametrize(
    ("probabilities", "names", "status"),
    [
        ((0.49,), 1, "unidentified"),
        ((0.3, 0.19), 1, "unidentified"),
        ((0.51,), 1, "ambiguous"),
        ((0.3, 0.21), 1, "ambiguous"),
        ((0.89, 0.05), 1, "ambiguous"),
        ((0.90, 0.05), 1, "identified"),
        ((0.97,), 2, "ambiguous"),
    ],
)
def test_the_status_is_said_by_the_probabilities(probabilities, names, status):
    """Known at all from one half, identified from nine tenths for one pattern that one award has."""
    assert status_of([Look(n, False, p, 0.0) for n, p in enumerate(probabilities)], names) == status


def test_the_same_pattern_turned_adds_to_its_probability():
    """Which way round is another question than which award."""
    either = [Look(3, False, 0.5, 0.0), Look(3, True, 0.45, 0.0), Look(4, False, 0.03, 0.0)]
    assert status_of(either, 1) == "identified"
