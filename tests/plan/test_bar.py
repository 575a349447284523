"""From a record to a bar to be made: what settles a pattern, what is asked, which rows are used."""

from datetime import date

import pytest

from ribbonbar.errors import Exit, OptionError, RecordError
from ribbonbar.plan.bar import dress, pattern_question, plan_bar, possible_patterns
from ribbonbar.precedence.model import Held, PlanSequence, Record
from ribbonbar.spec.model import Award, Colour, Emblem, Interval, Ribbon, Stripe
from tests.plan.calder import record_of, specification

BEACON, SEA, STAR, STRAIT = (
    f"calder/{award}" for award in ("order-of-the-beacon", "sea-gallantry-medal", "harbour-star", "strait-medal")
)
CROSS, JUBILEE, LONG = "calder/valour-cross", "calder/jubilee-medal", "calder/long-service-medal"


@pytest.fixture
def calder(tmp_path):
    return specification(tmp_path)


def only_ribbon(calder, held: Held):
    bar = plan_bar(record_of(held), calder)
    return bar.ribbons[0], bar


@pytest.mark.parametrize("division", ["military", "Military"])
def test_the_division_settles_the_pattern(calder, division):
    """An order with a military and a civil ribbon is drawn with the one that the record names, and says why."""
    ribbon, bar = only_ribbon(calder, Held(BEACON, division=division))
    assert ribbon.ribbon.id == "military"
    assert ribbon.because == f"the record says “{division}”"
    assert bar.exit_status == Exit.SETTLED


def test_without_a_division_it_is_asked_and_nothing_is_drawn(calder):
    """The question names the award, what is needed, and the patterns it would settle between."""
    ribbon, bar = only_ribbon(calder, Held(BEACON))
    assert ribbon.ribbon is None
    (question,) = bar.questions
    assert question.awards == (BEACON,)
    assert question.needs == "division of calder/order-of-the-beacon"
    assert "military or civil" in question.message
    assert bar.exit_status == Exit.UNCONFIRMED


def test_a_division_that_is_none_of_them_is_said(calder):
    """A misspelt division settles nothing and is quoted."""
    ribbon, bar = only_ribbon(calder, Held(BEACON, division="miltary"))
    assert ribbon.ribbon is None
    assert "“miltary” is none of them" in bar.questions[0].message


def patterns(*told: tuple[str, str, int | None, int | None]) -> Award:
    """An award with ribbons of different colours: id, division, first and last year."""
    ribbons = []
    for number, (name, division, first, last) in enumerate(told):
        dye = Colour(name, (50.0, number * 10.0, 0.0), "memory")
        worn = Interval(date(first, 1, 1) if first else None, date(last, 12, 31) if last else None)
        ribbons.append(Ribbon(name, "stripes", (Stripe(dye, dye, 1),), 32, 10, worn=worn, division=division))
    return Award("calder/cross", "Cross", ribbons=tuple(ribbons))


@pytest.mark.parametrize(
    ("division", "left"),
    [
        ("Royal Navy", {"naval"}),
        ("navy", {"naval"}),
        ("Army", {"crimson"}),
        ("crimson", {"crimson"}),
        ("Royal Nawy", {"crimson", "naval"}),
        ("", {"crimson", "naval"}),
    ],
)
def test_a_ribbon_without_a_division_is_for_all_that_have_none_of_their_own(division, left):
    """One ribbon for the navy and one for everybody else: “Army” takes the other, a misspelt navy takes neither."""
    award = patterns(("crimson", "", None, None), ("naval", "Royal Navy and Royal Marines", 1856, 1918))
    found, _ = possible_patterns(award, division, None)
    assert {ribbon.id for ribbon in found} == left


def test_what_is_asked_is_what_would_settle_it():
    """Two divisions with two patterns each need division and date; either alone leaves the other to ask."""
    award = patterns(("m", "military", 1937, None), ("c", "civil", 1937, None), ("m1", "military", 1918, 1936))
    asked = {
        (division, day): pattern_question(award, *told, division, day).needs
        for division, day in [("", None), ("", date(1950, 1, 1)), ("military", None)]
        for told in [possible_patterns(award, division, day)[:1]]
    }
    assert asked == {
        ("", None): "division and date of calder/cross",
        ("", date(1950, 1, 1)): "division of calder/cross",
        ("military", None): "date of calder/cross",
    }
    assert possible_patterns(award, "military", date(1920, 5, 5))[0][0].id == "m1"


@pytest.mark.parametrize(
    ("day", "pattern"), [(date(1935, 12, 31), "first"), (date(1936, 1, 1), "second"), (date(1990, 5, 5), "second")]
)
def test_the_date_settles_which_pattern_was_issued(calder, day, pattern):
    """A ribbon that changed is the one of its day, the days at the change included."""
    ribbon, bar = only_ribbon(calder, Held(SEA, day))
    assert ribbon.ribbon.id == pattern
    assert day.isoformat() in ribbon.because
    assert not bar.questions


def test_without_a_date_the_one_date_that_matters_is_asked(calder):
    """The pattern is not guessed, not even the newest."""
    ribbon, bar = only_ribbon(calder, Held(SEA))
    assert ribbon.ribbon is None
    assert [question.needs for question in bar.questions] == ["date of calder/sea-gallantry-medal"]


def test_a_date_outside_every_period_asks_for_the_ribbon_itself(calder):
    """Nothing fits 1890; the ribbon's id in place of a division answers the question."""
    _, bar = only_ribbon(calder, Held(SEA, date(1890, 1, 1)))
    assert bar.questions[0].needs == "ribbon of calder/sea-gallantry-medal"
    assert "1890-01-01 does not settle it" in bar.questions[0].message
    ribbon, bar = only_ribbon(calder, Held(SEA, date(1890, 1, 1), division="first"))
    assert ribbon.ribbon.id == "first"
    assert not bar.questions


def test_emblems_take_metal_and_meaning_from_the_specification(calder):
    """“rosette” on the Harbour Star is the silver one for a clasp; a number stays with its numeral."""
    ribbon, _ = only_ribbon(calder, Held(STAR, emblems=("rosette", "oak-leaf")))
    assert ribbon.emblems == (Emblem("rosette", "silver", "clasp held"), Emblem("oak leaf", "bronze"))
    ribbon, _ = only_ribbon(calder, Held(STRAIT, emblems=("numeral 3",)))
    assert ribbon.emblems == (Emblem("numeral 3"),)
    ribbon, _ = only_ribbon(calder, Held(LONG, emblems=("numeral 8",)))
    assert ribbon.emblems == (Emblem("numeral 8", "silver"),)


def test_an_emblem_the_specification_does_not_know_is_a_warning(calder):
    """It is drawn as asked for, and the finding says at which position and what is known."""
    ribbon, bar = only_ribbon(calder, Held(STRAIT, emblems=("maple leaf",)))
    assert ribbon.emblems == (Emblem("maple leaf"),)
    (finding,) = bar.findings
    assert (finding.kind, finding.severity, finding.positions) == ("emblem", "warning", ("1.1",))
    assert "“maple leaf” is not among" in finding.message
    assert "numeral or silver star" in finding.message


def test_more_emblems_than_a_ribbon_holds_are_refused(calder):
    """A record cannot make a sheet without end."""
    with pytest.raises(RecordError, match="13 emblems do not fit"):
        only_ribbon(calder, Held(STAR, emblems=("rosette",) * 13))


def test_two_undated_campaign_medals_ask_for_a_date(calder):
    """The pair is open: the bar can be drawn, not confirmed."""
    bar = plan_bar(record_of(Held(STAR), Held(STRAIT)), calder)
    assert {frozenset(question.awards) for question in bar.questions} == {frozenset((STAR, STRAIT))}
    assert bar.exit_status == Exit.UNCONFIRMED
    dated = plan_bar(record_of(Held(STAR), Held(STRAIT, date(1950, 1, 1))), calder)
    assert [ribbon.award.key for ribbon in dated.ribbons] == [STRAIT, STAR]
    assert dated.exit_status == Exit.SETTLED


def test_rows_follow_the_order_and_the_number_asked_for(calder):
    """Five ribbons, four to a row, the incomplete row on top; with --per-row 3, two on top."""
    held = [Held(CROSS), Held(STAR), Held(STRAIT, date(1960, 1, 1)), Held(JUBILEE), Held(LONG)]
    assert [len(row) for row in plan_bar(record_of(*held), calder).rows] == [1, 4]
    assert [len(row) for row in plan_bar(record_of(*held), calder, per_row=3).rows] == [2, 3]
    with pytest.raises(OptionError, match="give 1 to 20"):
        plan_bar(record_of(*held), calder, per_row=0)


def test_more_in_a_row_than_the_order_has_is_a_warning(calder):
    """The tailor may ask for it; the plan says what the order has."""
    held = [Held(CROSS), Held(STAR), Held(STRAIT, date(1960, 1, 1)), Held(JUBILEE), Held(LONG)]
    bar = plan_bar(record_of(*held), calder, per_row=5)
    assert [(finding.kind, finding.severity) for finding in bar.findings] == [("row-layout", "warning")]


def test_rows_that_a_work_order_lays_down_are_used_where_they_break_nothing(calder):
    """A permitted layout is drawn as the job asks; a wrong sequence is set right, and said."""
    held = (Held(CROSS), Held(STAR), Held(JUBILEE))
    right, wrong = ((CROSS,), (STAR, JUBILEE)), ((JUBILEE,), (CROSS, STAR))
    bar = plan_bar(Record(rows=right, held=held), calder)
    assert [[ribbon.award.key for ribbon in row] for row in bar.rows] == [[CROSS], [STAR, JUBILEE]]
    bar = plan_bar(Record(rows=wrong, held=held), calder)
    assert [[ribbon.award.key for ribbon in row] for row in bar.rows] == [[CROSS, STAR, JUBILEE]]
    assert any("not in the order of wear" in finding.message for finding in bar.findings)
    bar = plan_bar(Record(rows=((CROSS,),), held=held), calder)
    assert any("do not hold the same ribbons" in finding.message for finding in bar.findings)


def test_two_ribbons_of_one_award_take_one_entry_of_the_record_each(calder):
    """Where a service allows a second ribbon, each has its own division and emblems."""
    record = record_of(Held(BEACON, division="civil"), Held(BEACON, division="military", emblems=("rosette",)))
    bar = dress(PlanSequence("calder/calder-forces", (BEACON, BEACON), ((BEACON, BEACON),)), record, calder)
    assert [ribbon.ribbon.id for ribbon in bar.ribbons] == ["civil", "military"]
    assert [len(ribbon.emblems) for ribbon in bar.ribbons] == [0, 1]


def test_a_ribbon_keeps_its_own_width(calder):
    """A 38 mm cross ribbon beside a 32 mm one: the bar is 70 mm long."""
    bar = plan_bar(record_of(Held(CROSS), Held(STAR)), calder)
    assert bar.row_widths == (70.0,)
    assert bar.height_mm == 10.0


def test_orders_that_disagree_are_asked_about(tmp_path):
    """Two services' orders fit and give different sequences: which one applies is a question, not a guess."""
    text = (tmp_path / "calder.toml", specification(tmp_path))[0].read_text()
    start = text.index("[[order_of_wear]]")
    other = text[start:].replace("calder-forces", "calder-fleet").replace("Calder forces", "Calder fleet")
    other = other.replace('["jubilee-medal", "long-service-medal"]', '["long-service-medal", "jubilee-medal"]')
    (tmp_path / "calder.toml").write_text(text + other)
    from ribbonbar.spec.reader import read_specification

    both = read_specification([tmp_path / "calder.toml"])
    record = Record(held=(Held(JUBILEE), Held(LONG)))
    assert [question.needs for question in plan_bar(record, both).questions] == ["order of wear"]
    assert not plan_bar(record, both, "calder-fleet").questions
    assert not plan_bar(Record(held=(Held(CROSS), Held(JUBILEE))), both).questions
