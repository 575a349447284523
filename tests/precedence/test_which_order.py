"""Which order of wear applies, and what is said where that is not known."""

from datetime import date

import pytest

from ribbonbar.errors import OptionError
from ribbonbar.precedence.which_order import choose_order, judge_chosen
from ribbonbar.spec.model import Interval, Specification
from tests.precedence.bars import CALDER_AWARDS, award, bar, group, key, kinds, order, record, specification

CAMPAIGNS, LONG_SERVICE = ("Harbour Star", "Delta Medal"), ("Long Service Medal", "Cadet Medal")
FORCES = order(group("Campaigns", "listed", *CAMPAIGNS), group("Long service", "listed", *LONG_SERVICE))
POLICE = order(
    group("Long service", "listed", *LONG_SERVICE, "Valour Cross"),
    group("Campaigns", "listed", *CAMPAIGNS),
    id="police",
    title="Order of wear, Calder police",
)
OLD = order(
    group("Long service", "listed", *LONG_SERVICE),
    group("Campaigns", "listed", *CAMPAIGNS),
    id="old",
    title="Order of wear, Calder, until 1918",
    in_force=Interval(None, date(1918, 11, 1)),
)


def known(*orders):
    return specification(CALDER_AWARDS, orders)


def keys(*names):
    return tuple(map(key, names))


def chosen(*names, orders=(FORCES, POLICE), wanted=""):
    return choose_order(keys(*names), known(*orders), wanted)


def test_order_that_lists_all():
    """The order that lists all the awards is used, and nothing need be said."""
    choice = chosen("Harbour Star", "Valour Cross")
    assert choice.key == "calder/police"
    assert (choice.also, choice.missing, choice.findings) == ((), (), ())


def test_order_that_lists_the_most():
    """If none lists all, the one that lists most is used, and what it lacks is named."""
    choice = chosen("Harbour Star", "Valour Cross", "Foreign Star")
    assert choice.key == "calder/police"
    assert choice.missing == keys("Foreign Star")


def test_tie_is_said():
    """Two orders that list as many: one is used, the other named, in a note."""
    choice = chosen("Harbour Star", "Delta Medal")
    assert choice.key == "calder/calder-forces"
    assert choice.also == ("calder/police",)
    (finding,) = choice.findings
    assert (finding.kind, finding.severity) == ("order-of-wear", "note")
    assert "“Order of wear, Calder police” lists as many of these awards" in finding.message


def test_wanted_order_is_used():
    """--order goes before everything, by key, id or title; what is not known is refused with what was meant."""
    for wanted in ("calder/police", "police", "order of wear, calder police"):
        choice = chosen("Harbour Star", wanted=wanted)
        assert (choice.key, choice.also, choice.findings) == ("calder/police", (), ())
    with pytest.raises(OptionError, match="did you mean calder/police"):
        chosen("Harbour Star", wanted="polise")


def test_own_authority_first():
    """Of orders of several countries that list as many, the one of the awards' own country is used."""
    foreign = order(group("All", "listed", *CAMPAIGNS), title="Norland", id="x")
    foreign = type(foreign)("norland/forces", "Norland", foreign.groups)
    choice = chosen("Harbour Star", "Delta Medal", orders=(foreign, FORCES))
    assert choice.key == "calder/calder-forces"
    assert choice.also == ("norland/forces",)


def test_order_of_a_country_that_has_them_as_foreign_is_no_rival():
    """An order that lists the awards only by date of award, as another country's, does not apply to their wearer."""
    host = order(group("Foreign awards", "by-award-date", *CAMPAIGNS, *LONG_SERVICE), id="host", title="Host")
    choice = chosen("Harbour Star", "Cadet Medal", orders=(host, FORCES))
    assert (choice.key, choice.also) == ("calder/calder-forces", ())
    assert chosen("Harbour Star", "Cadet Medal", "Valour Cross", orders=(host, FORCES)).key == "calder/calder-forces"
    guest = order(group("All", "listed", "Valour Cross"), *host.groups, id="guest", title="Guest")
    assert chosen("Harbour Star", "Valour Cross", orders=(FORCES, guest)).key == "calder/guest"


def test_order_in_force_first():
    """A superseded order is not used where one in force lists as many; it is told, and is no rival."""
    choice = chosen("Harbour Star", "Delta Medal", orders=(OLD, FORCES))
    assert (choice.key, choice.also) == ("calder/calder-forces", ())
    assert "until 1918" in choice.findings[0].message
    alone = chosen("Harbour Star", orders=(OLD,))
    assert alone.key == "calder/old"
    assert "applied until 1918-11-01" in alone.findings[0].message


def test_several_superseded_orders_are_rivals():
    """Where only superseded orders list the awards, each of them may be the one."""
    older = order(*OLD.groups, id="older", title="Older", in_force=Interval(None, date(1900, 1, 1)))
    assert chosen("Harbour Star", orders=(OLD, older)).also == ("calder/older",)


def test_nothing_identified():
    """With no award named any order may apply, and the note says that no ribbon tells."""
    choice = chosen()
    assert choice.also == ("calder/police",)
    assert "no ribbon tells which applies" in choice.findings[0].message


def test_no_order_at_all():
    """A specification without an order of wear is refused with what to do."""
    with pytest.raises(OptionError, match="no order of wear"):
        choose_order([], Specification())


def test_many_rivals_are_counted():
    """Of many orders two are named and the rest counted."""
    several = [order(*FORCES.groups, id=f"o{i}", title=f"Order {i}") for i in range(6)]
    message = chosen("Harbour Star", orders=several).findings[0].message
    assert "“Order 1”, “Order 2” and 3 more" in message


def judged(*rows, orders=(FORCES, POLICE), wanted="", held=None):
    specification = known(*orders)
    seen = [name for row in bar(*rows) for slot in row for name in slot.awards]
    return judge_chosen(bar(*rows), specification, choose_order(seen, specification, wanted), held)


def test_error_must_hold_under_every_order_that_fits():
    """A bar that is right under one of two orders that fit is not called wrong: the order is what is not known."""
    verdict = judged("Long Service Medal, Harbour Star")
    assert verdict.outcome == "unconfirmed"
    assert "out-of-place" in kinds(verdict, "warning")
    assert any("Under “Order of wear, Calder police” nothing is proved wrong" in f.message for f in verdict.findings)
    assert judged("Long Service Medal, Harbour Star", wanted="calder-forces").outcome == "out-of-order"
    assert judged("Long Service Medal, Harbour Star", wanted="police").outcome == "in-order"


def test_wrong_under_every_order():
    """A bar that is wrong under each order that fits is out of order."""
    verdict = judged("Delta Medal, Harbour Star")
    assert verdict.outcome == "out-of-order"
    assert verdict.to_move == ("1.2",)
    assert kinds(verdict) == ["out-of-place", "order-of-wear"]


def test_right_only_under_one_of_two_equal_orders_is_unconfirmed():
    """A bar right by the order used, but wrong by another of the same country, is not confirmed."""
    verdict = judged("Harbour Star, Long Service Medal")
    assert verdict.outcome == "unconfirmed"
    assert any("would be out of order" in f.message for f in verdict.findings)
    assert judged("Harbour Star, Delta Medal").outcome == "in-order"


def test_other_countries_order_does_not_unsettle():
    """A bar of a country's own awards, right by its own order, is in order whatever a foreign list says."""
    foreign = type(POLICE)("norland/forces", "Norland", POLICE.groups)
    assert judged("Harbour Star, Long Service Medal", orders=(FORCES, foreign)).outcome == "in-order"


def test_superseded_order_does_not_unsettle():
    """What an order of old would say leaves the verdict by the one in force as it is."""
    assert judged("Harbour Star, Long Service Medal", orders=(FORCES, OLD)).outcome == "in-order"
    assert judged("Long Service Medal, Harbour Star", orders=(FORCES, OLD)).outcome == "out-of-order"


def test_record_is_used_under_each_order():
    """The record's dates count under every order that fits."""
    awards = [award("A", "1950-01-01", "1960-01-01"), award("B", "1950-01-01", "1960-01-01")]
    orders = [order(group("Campaigns", "by-date", "A", "B"), id=name, title=name) for name in ("one", "two")]
    both = specification(awards, orders)
    choice = choose_order(keys("A", "B"), both)
    assert judge_chosen(bar("A, B"), both, choice, record("A 1955-01-01", "B 1951-01-01")).outcome == "out-of-order"
    assert judge_chosen(bar("B, A"), both, choice, record("A 1955-01-01", "B 1951-01-01")).outcome == "in-order"
