"""Points that decide seldom, each on a bar where they do."""

from dataclasses import replace

import pytest

from ribbonbar.errors import OptionError
from ribbonbar.precedence.judge import judge
from ribbonbar.precedence.model import Held, Record, Slot
from ribbonbar.precedence.names import Names
from ribbonbar.precedence.sequence import plan
from ribbonbar.precedence.work_order import compare
from ribbonbar.spec.model import Ribbon, Source
from tests.precedence.bars import (
    CALDER,
    CALDER_ORDER,
    CALDER_SOURCE,
    award,
    bar,
    group,
    key,
    kinds,
    order,
    record,
    rule,
    specification,
)

LONG_LIST = [award(f"Medal {n:02}") for n in range(40)]
LISTED = order(group("All", "listed", *(each.name for each in LONG_LIST)))


def test_far_too_many_readings_still_give_the_fewest_moves():
    """Eight ribbons of three candidates each, and one ribbon that is surely out of place: that one alone is to move,
    and this is proven although not every reading was looked at."""
    slots = [Slot("1.1", (key("Medal 30"),)), Slot("1.2", (key("Medal 05"),))]
    for n in range(8):
        either = (39 - n, n + 10, 4 - n % 5)
        slots.append(Slot(f"1.{n + 3}", tuple(key(f"Medal {number:02}") for number in either)))
    verdict = judge((tuple(slots),), specification(LONG_LIST, [LISTED]), LISTED)
    assert verdict.violated
    assert verdict.to_move == ("1.1",)
    assert verdict.proven_minimal


def test_a_second_ribbon_of_one_award_is_no_breach_of_not_together():
    """Where the service allows a second ribbon, two of one award stand beside each other, whatever they may not be
    worn with."""
    two = order(group("All", "listed", "Valour Cross", "Harbour Star"), second_ribbon=True)
    known = specification(
        [award("Valour Cross"), award("Harbour Star")], [two], [rule("not-together", "Valour Cross", "Harbour Star")]
    )
    assert judge(bar("Valour Cross, Valour Cross"), known, two).outcome == "in-order"
    assert kinds(judge(bar("Valour Cross, Harbour Star"), known, two), "error") == ["not-together"]


@pytest.mark.parametrize(("of_group", "told"), [("calder/annex", "Annex C"), ("", CALDER_SOURCE.title)])
def test_the_dates_needed_name_the_groups_own_source_else_the_orders(of_group, told):
    """The text that says how this group is sorted is the one to look into."""
    dated = group("Campaign medals", "by-date", "Harbour Star", "Strait Medal", source=of_group)
    one = order(dated, source="calder/dress-2")
    known = specification(CALDER.awards.values(), [one], (), [CALDER_SOURCE, Source("calder/annex", "Annex C")])
    (finding,) = [f for f in judge(bar("Harbour Star, Strait Medal"), known, one).findings if f.kind == "dates-needed"]
    assert finding.source == told


def test_a_date_that_does_not_fit_names_the_source_of_the_award():
    """The first day of service lies before the award could be earned: where that is published is told."""
    ribbon = Ribbon("standard", "unmatched", (), 32.0, 10.0, source="calder/dress-2")
    star = replace(award("Harbour Star", "1951-03-01", "1954-10-31"), ribbons=(ribbon,))
    one = order(group("Campaign medals", "by-date", "Harbour Star"))
    known = specification([star], [one], (), [CALDER_SOURCE])
    (finding,) = judge(bar("Harbour Star"), known, one, record("Harbour Star 1940-01-01")).findings
    assert (finding.kind, finding.severity, finding.source) == ("record", "warning", CALDER_SOURCE.title)
    assert "could not be earned before 1951-03-01" in finding.message


def test_an_award_of_the_record_that_no_file_knows_is_passed_over():
    """What it was held for cannot be checked, so nothing is said of it."""
    held = Record(held=(Held("elsewhere/order-of-the-sun"), Held(key("Valour Cross"))))
    assert judge(bar("Valour Cross"), CALDER, CALDER_ORDER, held).outcome == "in-order"


def test_a_lone_award_without_a_place_is_asked_about():
    """The plan of one award that the order does not list says which order would be needed, and why."""
    (question,) = plan(record("Silver Jubilee Medal"), CALDER, order(group("All", "listed", "Valour Cross"))).open
    assert question.needs == "an order of wear that lists Silver Jubilee Medal"
    assert (
        question.message
        == "Order of wear, Calder forces does not list Silver Jubilee Medal, so the place is not known."
    )


def test_of_two_ribbons_of_one_award_the_nearer_is_the_one_ordered():
    """A ribbon more than ordered, put before the rest: that one is extra, and nothing is called out of its place."""
    rows = (tuple(map(key, ("Harbour Star", "Delta Medal", "Cadet Medal"))),)
    found = compare(bar("Cadet Medal, Harbour Star, Delta Medal, Cadet Medal"), Record(rows=rows), CALDER)
    assert [(f.kind, f.positions) for f in found if f.kind == "extra"] == [("extra", ("1.1",))]
    assert "out-of-place" not in [f.kind for f in found]


def test_swapped_ribbons_do_not_hide_that_the_rows_are_others():
    """Both are told: which two are swapped, and that the rows are not as ordered."""
    ordered = Record(rows=(tuple(map(key, ("Valour Cross", "Harbour Star"))), tuple(map(key, ("Delta Medal",)))))
    found = compare(bar("Harbour Star", "Valour Cross, Delta Medal"), ordered, CALDER)
    assert [f.kind for f in found] == ["swapped", "row-layout"]
    assert found[1].message == "Rows of 1 and 2, top first, where 2 and 1 are ordered."


def test_no_more_than_three_names_are_proposed():
    """A name that is like many awards': three ids to choose from are enough to read."""
    known = specification(LONG_LIST, [LISTED])
    with pytest.raises(OptionError) as error:
        Names(known).award("Medal 4x")
    assert str(error.value).count("calder/medal-") == 3
