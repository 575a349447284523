"""The decoder's steps one by one, each against the same sum done slowly, with the figures its documentation gives."""

from itertools import product
from math import exp, hypot, log, sqrt
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.filters import gaussian

from ribbonbar.reading import decode
from ribbonbar.reading.decode import DecodedRow, holding_to, relit, set_up, unlit
from ribbonbar.reading.decode import decode as decode_rows
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.observe import Softness, cut
from ribbonbar.reading.segment import Division, Spans, divisions, width_classes
from ribbonbar.reading.templates import bank_of
from tests.reading.cloth import catalogue
from tests.reading.strips import PER_MM, evidence_of, seen_on


def all_divisions(length_mm: float, classes: list[float]) -> dict[tuple[int, ...], float]:
    """Log prior of each sequence of widths: at most ten ribbons, at most two of them odd among common ones unless
    all are of one width, the row's length within three and a half times nine per cent of theirs, or further if so."""
    found = {}
    for count in range(1, 11):
        evenly = ((only,) * count for only in range(len(classes)))
        for sequence in product(range(len(classes)), repeat=count) if count <= 8 else evenly:
            odd = sum(c > 0 for c in sequence)
            alike = len(set(sequence)) == 1
            if not alike and (odd > 2 or odd == count):
                continue
            off = log(length_mm / sum(classes[c] for c in sequence))
            usually = 3.5 * 0.09
            least, most = (-0.5, 0.51) if alike else (-usually, usually)  # seen 16.5 mm tall, or 6
            if not least <= off <= most or not -0.59 < log(length_mm / (count * classes[0])) < 0.6:
                continue
            found[sequence] = (
                -60.0 * (abs(off) > usually) - 0.5 * (off / 0.09) ** 2 - 2.5 * (1 if alike and odd else odd)
            )
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
        each = np.arange(count)
        rows.append(decode._Divided(choices, scores, Spans(each, each + 1, each, each), each[:, None]))

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
    found = decode._divide(decode._offered(row, choices), shone)
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


@pytest.mark.parametrize(("steady", "turns"), [(0.0, 4), (1.0, 1)])
def test_light_and_ribbons_are_found_in_turns_until_the_light_stays(loom, monkeypatch, steady, turns):
    """First with the wide leeway of an unknown light, then at most four times with that of a known one."""
    leeways, lights = [], []
    divide, relight = decode._divide, decode.relit

    def spied(row, shone):
        leeways.append(shone.quick.upright.leeway)
        return divide(row, shone)

    monkeypatch.setattr(decode, "STEADY", steady)
    monkeypatch.setattr(decode, "_divide", spied)
    monkeypatch.setattr(decode, "relit", lambda *a: lights.append(relight(*a)) or lights[-1])
    shone, rows = decode_rows([seen_on(4.0, "harbour-star", "long-service")], unlit(loom), {})
    assert shone is lights[-1]
    assert [(one.gain, one.offset, one.noise) for one in leeways] == [(0.30, 0.12, 0.06)] + [
        (0.12, 0.05, 0.045)
    ] * turns
    named = [loom.bank.patterns[loom.pattern[t]].names[0][0] for t in rows[0].evidence.argmax(1)]
    assert named == ["calder/harbour-star", "calder/long-service"]


def test_templates_are_blurred_as_a_phone_would():
    """By one photo pixel, never by less than half a column, and no photograph is taken for coarser than 0.2 pixels."""
    bank = bank_of(catalogue())
    assert [set_up(bank, fine).blur for fine in (2.0, 12.0, 0.1)] == pytest.approx([1.5, 0.5, 15.0])


@pytest.mark.parametrize(("soft", "blur", "hue"), [
    (Softness(), 0.75, hypot(0.75, 1.125)), (Softness(1.5, 2.0), 1.5, 2.0), (Softness(1.5, 1.0), 1.5, 1.5),
    (Softness(9.0, 90.0), 4.0, 8.0),
])  # fmt: skip
def test_hue_is_blurred_as_far_as_edges_show_it(soft, blur, hue):
    """Where none does, by a pixel and a half more; never less than lightness is."""
    made = set_up(bank_of(catalogue()), 4.0, soft)
    assert (made.blur, made.hue_blur) == pytest.approx((blur, hue))


def test_templates_look_as_a_camera_shows_them():
    """Their lightness as sharp as the lens is, their hue as soft as JPEG leaves it: against scikit-image's Gaussian."""
    bank = bank_of(catalogue())
    made = set_up(bank, 4.0, Softness(1.0, 3.0))
    encoded = np.cbrt(gaussian(bank.vertical.linear[:, 0], (0.0, 1.0, 0.0)) + 0.002)
    lightness = (encoded @ (0.299, 0.587, 0.114))[..., None]  # ITU-R BT.601
    hue = gaussian(encoded - lightness, (0.0, sqrt(8.0), 0.0))
    assert np.abs(made.vertical - lightness - hue).max() < 0.004


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
