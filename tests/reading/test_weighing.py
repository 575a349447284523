"""The few templates that remain, weighed, and what becomes of the evidence: probabilities and a status."""

from dataclasses import replace
from itertools import product
from math import exp, log

import numpy as np
import pytest

from ribbonbar.audit import Catalogue
from ribbonbar.reading import weigh
from ribbonbar.reading.confidence import Look, looks, status_of
from ribbonbar.reading.decode import set_up
from ribbonbar.reading.evidence import coarse_scatter, scatter_cost
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.observe import cut
from ribbonbar.reading.templates import COLUMNS, ROWS, bank_of
from ribbonbar.reading.weigh import Weighed, any_dye
from ribbonbar.spec.model import Award, Group, OrderOfWear, Specification
from tests.reading.cloth import GOLD, GREEN, NAVY, RED, SKY, WHITE, catalogue, ribbon
from tests.reading.strips import seen_on


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


@pytest.mark.parametrize(("hue_blur", "beside"), [(0.4, 1), (1.4, 1), (2.6, 3)])
def test_as_many_columns_count_less_as_the_neighbours_hue_reaches(many, one_ribbon, monkeypatch, hue_blur, beside):
    spy = Spy()
    monkeypatch.setattr(weigh, "structured_evidence", spy)
    weigh._weigh_upright(one_ribbon, 0, np.array([2]), replace(many, hue_blur=hue_blur), NEUTRAL)
    counts = spy.asked[0][1][0, :, 0]
    assert (counts[:beside] < 0.5).all() and (counts[-beside:] < 0.5).all()
    assert (counts[beside:-beside] == 1.0).all()


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


def found_for(*evidence: float, free: float = -100.0, uneven: float = 0.0, turned=None) -> list[Look]:
    weighed = [Weighed(n, e, 0.0) for n, e in enumerate(evidence)]
    count = len(evidence)
    turned = np.zeros(count, bool) if turned is None else np.array(turned)
    return looks(weighed, free, uneven, np.arange(count), turned, np.ones(count))


def known(found: list[Look]) -> float:
    return sum(look.probability for look in found)


def test_evidence_between_two_ribbons_is_sharpened_to_odds():
    """One unit of log evidence is 1.8 of log odds; what the first has is shared by both and none is lost."""
    found = found_for(0.0, -1.0, -3.0)
    assert [look.pattern for look in found] == [0, 1, 2]
    assert [look.log_evidence for look in found] == [0.0, -1.0, -3.0]
    assert log(found[0].probability / found[1].probability) == pytest.approx(1.8)
    assert log(found[0].probability / found[2].probability) == pytest.approx(5.4)
    assert known(found) == pytest.approx(1.0, abs=1e-4)


def test_a_ribbon_may_be_so_much_worse_than_the_free_model():
    """By 4 for even odds; 2.7 either way is odds of e: a known ribbon of odd dyes is seldom much worse than that."""
    assert known(found_for(-10.0, free=-6.0)) == pytest.approx(0.5, abs=1e-3)
    better = known(found_for(-10.0, free=-8.7))
    assert log(better / (1.0 - better)) == pytest.approx(1.0, abs=1e-3)
    assert known(found_for(-10.0, free=90.0)) < 1e-9


def test_what_differs_along_its_stripes_is_hardly_a_known_ribbon():
    """Even odds at 85, odds of e six less; nothing at all changes nothing."""
    assert known(found_for(0.0, uneven=85.0)) == pytest.approx(0.5, abs=1e-3)
    assert known(found_for(0.0, uneven=79.0)) == pytest.approx(1 / (1 + exp(-1)), abs=1e-3)
    assert known(found_for(0.0, uneven=0.0)) == pytest.approx(1.0, abs=1e-4)


def test_what_the_order_asked_for_does_not_list_gives_way_to_its_near_twin():
    """Of two that look alike the one that is listed is likelier, but not identified; what is plainly seen stands, and
    rejection knows no favour."""
    weighed = [Weighed(0, -20.0, 0.0), Weighed(1, -20.2, 0.0)]
    rest = -100.0, 0.0, np.arange(2), np.zeros(2, bool)
    found = looks(weighed, *rest, np.array([0.1, 1.0]))
    assert [look.pattern for look in found] == [1, 0]
    assert status_of(found, 1) == "ambiguous"
    plain = looks([weighed[0], Weighed(1, -25.0, 0.0)], *rest, np.array([0.1, 1.0]))
    assert plain[0].pattern == 0
    assert known(found) == pytest.approx(known(looks(weighed, *rest, np.ones(2))))


def test_the_catalogue_favours_the_awards_of_the_order_asked_for():
    """A ribbon that one listed award shares is favoured; without an order, or with an unknown one, none is."""
    order = OrderOfWear("calder/all", "All", (Group("medals", "Medals", "list", ("calder/jubilee",)),))
    everything = Catalogue.of(replace(catalogue(), orders={order.key: order}))
    bank = everything.asked("calder/all").bank
    favoured = [bank.patterns[n].names[0][0] for n in np.flatnonzero(bank.weight == 1.0)]
    assert favoured == ["calder/jubilee"]
    assert set(bank.weight) == {0.1, 1.0}
    assert everything.asked("").bank is everything.bank
    assert everything.asked("calder/none").bank is everything.bank


def test_one_pattern_both_ways_round_is_two_looks_and_its_phases_one():
    """A diagonal counts once however many beginnings were tried, at its best; reversed it is another look."""
    weighed = [Weighed(n, e, 0.0) for n, e in enumerate((0.0, -0.5, -1.0, -2.0))]
    pattern, turned = np.array([4, 4, 4, 7]), np.array([False, False, True, False])
    found = looks(weighed, -100.0, 0.0, pattern, turned, np.ones(pattern.max() + 1))
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
        ((0.94, 0.05), 1, "ambiguous"),
        ((0.95, 0.04), 1, "identified"),
        ((0.97,), 2, "ambiguous"),
    ],
)
def test_the_status_is_said_by_the_probabilities(probabilities, names, status):
    """Known at all from one half, identified from nineteen in twenty for one pattern that one award has."""
    assert status_of([Look(n, False, p, 0.0) for n, p in enumerate(probabilities)], names) == status


def test_the_same_pattern_turned_adds_to_its_probability():
    """Which way round is another question than which award."""
    either = [Look(3, False, 0.5, 0.0), Look(3, True, 0.45, 0.0), Look(4, False, 0.03, 0.0)]
    assert status_of(either, 1) == "identified"
