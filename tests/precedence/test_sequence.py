"""Planning: from what is held to the bar, with every choice explained and every open question asked."""

from itertools import combinations

from hypothesis import assume, given
from hypothesis import strategies as st

from ribbonbar.errors import Exit, SpecError
from ribbonbar.precedence.judge import judge
from ribbonbar.precedence.model import Record, Slot
from ribbonbar.precedence.relation import Standing, rank
from ribbonbar.precedence.sequence import plan
from tests.precedence.bars import (
    CALDER,
    CALDER_AWARDS,
    CALDER_ORDER,
    award,
    group,
    key,
    order,
    record,
    rule,
    specification,
)
from tests.precedence.test_brute_force import cases


def planned(*held, using=CALDER, **options):
    return plan(record(*held), using, next(iter(using.orders.values())), **options)


def keys(*names):
    return tuple(map(key, names))


def test_customers_list_in_any_order():
    """The list as the customer gives it becomes the bar in the order of wear, senior first, rows from the top."""
    result = planned("Long Service Medal", "Delta Medal", "Cadet Medal", "Valour Cross", "Harbour Star 1952-01-01")
    sequence = keys("Valour Cross", "Harbour Star", "Delta Medal", "Long Service Medal", "Cadet Medal")
    assert result.sequence == sequence
    assert result.rows == (sequence[:1], sequence[1:])
    assert result.open == ()
    assert result.findings == ()
    assert result.exit_status is Exit.SETTLED
    assert result.order_of_wear == "calder/calder-forces"


def test_each_neighbour_is_explained():
    """Between any two neighbours there is the rule that puts them so, and its source."""
    result = planned("Delta Medal", "Valour Cross", "Peace Mission Medal")
    assert [(reason.first, reason.second) for reason in result.reasons] == [
        keys("Valour Cross", "Peace Mission Medal"),
        keys("Peace Mission Medal", "Delta Medal"),
    ]
    assert result.reasons[0].because == "“Gallantry decorations” go before “Campaign medals”"
    assert "1959-06-01 at the latest" in result.reasons[1].because
    assert result.reasons[0].source == "Calder forces dress regulations, part 2"


def test_open_pair_asks_for_the_date_that_matters():
    """Two overlapping campaigns stay open, and only the dates that are not known are asked for."""
    result = planned("Strait Medal", "Harbour Star")
    (pair,) = result.open
    assert pair.awards == keys("Harbour Star", "Strait Medal")
    assert pair.needs == "dates of Harbour Star and Strait Medal"
    assert "“Campaign medals”" in pair.message
    assert result.exit_status is Exit.UNCONFIRMED
    assert "one way that is permitted" in result.reasons[0].because
    (pair,) = planned("Strait Medal", "Harbour Star 1954-01-01").open
    assert pair.needs == "date of Strait Medal"


def test_open_pairs_are_arranged_the_same_every_time():
    """Where nothing settles it, the earlier known date goes first, whatever way round the record names them."""
    assert planned("Strait Medal", "Harbour Star").sequence == planned("Harbour Star", "Strait Medal").sequence
    late = planned("Harbour Star 1954-01-01", "Strait Medal")
    assert late.sequence == keys("Strait Medal", "Harbour Star")
    foreign = planned("Foreign Medal", "Foreign Star")
    assert foreign.sequence == keys("Foreign Star", "Foreign Medal")


def test_same_day_is_not_open():
    """Two awards of one day need no date: either way round is permitted, and the reason says so."""
    result = planned("Foreign Medal 1960-01-01", "Foreign Star 1960-01-01")
    assert result.open == ()
    assert result.exit_status is Exit.SETTLED
    assert "same day" in result.reasons[0].because


def test_award_worn_elsewhere_is_left_off():
    """An award for the other breast is not on the bar, and a note says where it goes."""
    result = planned("Valour Cross", "Unit Citation")
    assert result.sequence == keys("Valour Cross")
    (finding,) = result.findings
    assert finding.severity == "note"
    assert finding.message == "Unit Citation is not on this bar: it is worn elsewhere (right breast)."
    assert result.exit_status is Exit.SETTLED
    assert planned("Unit Citation").rows == ()


def test_award_held_twice():
    """An award held twice gets one ribbon, dated by the earlier; where a second is allowed they stand side by side."""
    result = planned("Delta Medal", "Harbour Star 1954-01-01", "Harbour Star 1952-01-01")
    assert result.sequence == keys("Harbour Star", "Delta Medal")
    assert [(f.kind, f.severity) for f in result.findings] == [("duplicate", "warning")]
    assert "Harbour Star is held 2 times" in result.findings[0].message
    second = specification(CALDER_AWARDS, [order(*CALDER_ORDER.groups, second_ribbon=True)])
    result = planned("Delta Medal", "Harbour Star", "Harbour Star", using=second)
    assert result.sequence == keys("Harbour Star", "Harbour Star", "Delta Medal")
    assert result.findings == ()


def test_award_the_order_does_not_list_comes_last_and_open():
    """An award without a place is put last, and its place is asked for against each other award."""
    known = specification([*CALDER_AWARDS, award("Stray Medal")], [CALDER_ORDER])
    result = planned("Stray Medal", "Valour Cross", "Cadet Medal", using=known)
    assert result.sequence == keys("Valour Cross", "Cadet Medal", "Stray Medal")
    assert [pair.awards for pair in result.open] == [
        keys("Valour Cross", "Stray Medal"),
        keys("Cadet Medal", "Stray Medal"),
    ]
    assert result.open[0].needs == "an order of wear that lists Stray Medal"
    assert "does not list Stray Medal" in result.open[0].message


def test_single_award_the_order_does_not_list():
    """Even alone, an award the order does not list is not settled."""
    known = specification([*CALDER_AWARDS, award("Stray Medal")], [CALDER_ORDER])
    result = planned("Stray Medal", using=known)
    assert result.exit_status is Exit.UNCONFIRMED
    assert [pair.awards for pair in result.open] == [keys("Stray Medal")]
    assert [f.kind for f in result.findings] == ["order-of-wear"]


def test_broken_rules_are_errors():
    """Holding two awards that exclude each other, or one without the other it needs, breaks a rule: status 1."""
    rules = [rule("not-together", "Harbour Star", "Delta Medal"), rule("needs", "Valour Cross", "Cadet Medal")]
    known = specification(CALDER_AWARDS, [CALDER_ORDER], rules)
    result = planned("Harbour Star", "Delta Medal", "Valour Cross", using=known)
    assert result.exit_status is Exit.BROKEN
    assert [f.message for f in result.findings] == [
        "Harbour Star and Delta Medal are not worn together.",
        "Valour Cross is not worn without Cadet Medal, which is not on the bar.",
    ]
    assert all(f.positions == () for f in result.findings)


def test_date_that_cannot_be_is_a_warning():
    """A date outside the award's period is told, and leaves open what it cannot settle."""
    result = planned("Peace Mission Medal", "Delta Medal 1957-01-01")
    assert [(f.kind, f.severity) for f in result.findings] == [("record", "warning")]
    assert result.exit_status is Exit.UNCONFIRMED


def test_disputed_pair_is_open_for_a_ruling():
    """Where dates and a fixed sequence disagree no date is asked for: only a ruling helps."""
    awards = [award("A", "1945-01-01", "1945-12-31"), award("B", "1940-01-01", "1940-12-31")]
    awards += [award("C", "1942-01-01", "1942-12-31")]
    known = specification(
        awards, [order(group("Campaign medals", "by-date", "A", "B", "C"))], [rule("listed-within", "A", "B")]
    )
    result = planned("A", "B", "C", using=known)
    assert result.sequence.index(key("A")) < result.sequence.index(key("B"))
    assert {frozenset(pair.awards) for pair in result.open} == {frozenset(keys("A", "C")), frozenset(keys("B", "C"))}
    assert all(pair.needs.startswith("a ruling by the issuing authority") for pair in result.open)


def test_rows_of_work_order_count_as_held():
    """A work order that only gives rows still names what the bar carries."""
    result = plan(Record(rows=(keys("Delta Medal", "Valour Cross"),)), CALDER, CALDER_ORDER)
    assert result.sequence == keys("Valour Cross", "Delta Medal")


def test_rows_as_asked():
    """The tailor's number of ribbons in a row goes before the order's."""
    result = planned("Valour Cross", "Harbour Star", "Delta Medal", per_row=2)
    assert [len(row) for row in result.rows] == [1, 2]


@given(cases(), st.randoms())
def test_what_is_planned_is_never_judged_wrong(case, chance):
    """The planned bar, photographed, is never out of order in its sequence, and is open exactly where the plan is."""
    specification, held, _ = case
    order = specification.orders["x/o"]
    names = sorted(specification.awards)
    chance.shuffle(names)
    record = Record(rows=(tuple(names),), held=held.held if held else ())
    try:
        result = plan(record, specification, order)
    except SpecError:
        assume(False)
    on_bar = [name for name in names if not specification.awards[name].worn_elsewhere]
    assert sorted(result.sequence) == sorted(on_bar)
    rows = tuple(
        tuple(Slot(f"{r}.{p}", (name,)) for p, name in enumerate(row, 1)) for r, row in enumerate(result.rows, 1)
    )
    verdict = judge(rows, specification, order, record)
    assert verdict.to_move == ()
    broken = [f for f in result.findings if f.severity == "error"]
    assert verdict.violated == bool(broken)
    if on_bar:
        assert verdict.settled == (not result.open)
    ranking = rank(specification, order, on_bar, record)
    for first, second in combinations(result.sequence, 2):
        assert ranking.standing(first, second) is not Standing.AFTER
    assert len(result.reasons) == max(0, len(on_bar) - 1)
