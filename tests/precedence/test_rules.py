"""One ribbon for an award, not together, needs, worn elsewhere; certain and in doubt."""

from ribbonbar.precedence.judge import judge
from tests.precedence.bars import CALDER, CALDER_AWARDS, CALDER_ORDER, bar, order, rule, specification


def judged(*rows, rules=(), **of_order):
    changed = order(*CALDER_ORDER.groups, source=CALDER_ORDER.source, **of_order)
    known = specification(CALDER_AWARDS, [changed], rules, CALDER.sources.values())
    return judge(bar(*rows), known, changed)


def told(verdict, kind):
    return [(f.severity, f.positions, f.message) for f in verdict.findings if f.kind == kind]


def test_second_ribbon_of_one_award_is_a_duplicate():
    """A repeat shows as an emblem, so a second ribbon of the award is an error."""
    verdict = judged("Valour Cross, Harbour Star, Harbour Star")
    assert verdict.outcome == "out-of-order"
    assert verdict.to_move == ()
    assert told(verdict, "duplicate") == [
        ("error", ("1.2", "1.3"), "Harbour Star stands at 1.2 and 1.3: only one of these may stay.")
    ]


def test_second_ribbon_where_the_service_allows_it():
    """Where the service allows a second ribbon, two alike side by side are right."""
    assert judged("Valour Cross, Harbour Star, Harbour Star", second_ribbon=True).outcome == "in-order"
    assert judged("Harbour Star, Valour Cross, Harbour Star", second_ribbon=True).outcome == "out-of-order"


def test_possible_duplicate_is_a_warning():
    """Two ribbons that may be for one award are a warning, told once for all that are tied together."""
    verdict = judged(
        "Harbour Star | Long Service Medal, Long Service Medal | Cadet Medal, Cadet Medal | Harbour Star, ?"
    )
    message = "The ribbons at 1.1, 1.2 and 1.3 may be for one and the same award."
    assert told(verdict, "duplicate") == [("warning", ("1.1", "1.2", "1.3"), message)]


def test_sure_duplicate_beside_a_doubtful_ribbon():
    """A doubtful ribbon does not make a sure duplicate doubtful."""
    verdict = judged("Harbour Star, Harbour Star, Delta Medal | Harbour Star")
    assert [(severity, positions) for severity, positions, _ in told(verdict, "duplicate")] == [
        ("error", ("1.1", "1.2")),
        ("warning", ("1.1", "1.2", "1.3")),
    ]


def test_three_ribbons_of_two_awards():
    """Three ribbons that can only be two awards: one is a duplicate however they are read."""
    verdict = judged(*["Meritorious Service Medal | Long Service Medal"] * 3)
    assert verdict.outcome == "out-of-order"


def test_not_together():
    """Two awards that exclude each other are an error with the rule's reason and source."""
    apart = rule(
        "not-together", "Harbour Star", "Strait Medal", because="the second is a clasp", source="calder/dress-2"
    )
    verdict = judged("Valour Cross, Harbour Star, Strait Medal", rules=[apart])
    (finding,) = [f for f in verdict.findings if f.kind == "not-together"]
    assert finding.severity == "error"
    assert finding.positions == ("1.2", "1.3")
    assert finding.message == "Harbour Star (1.2) and Strait Medal (1.3) are not worn together."
    assert finding.because == "the second is a clasp"
    assert finding.source == "Calder forces dress regulations, part 2"
    assert told(judged("Valour Cross, Harbour Star", rules=[apart]), "not-together") == []


def test_not_together_in_doubt():
    """If one of the two may be something else, it is a warning; if each choice is excluded, an error."""
    apart = rule("not-together", "Harbour Star", "Strait Medal", "Delta Medal")
    verdict = judged("Harbour Star, Strait Medal | Silver Jubilee Medal", rules=[apart])
    (warning,) = told(verdict, "not-together")
    assert warning[:2] == ("warning", ("1.1", "1.2"))
    assert "may be two of Harbour Star and Strait Medal" in warning[2]
    verdict = judged("Harbour Star, Strait Medal | Delta Medal", rules=[apart])
    assert told(verdict, "not-together")[0][0] == "error"
    assert told(verdict, "not-together")[0][2] == "Harbour Star (1.1) and the ribbon at 1.2 are not worn together."


def test_same_award_twice_is_a_duplicate_and_not_a_pair_apart():
    """Two ribbons of one award are not two awards that exclude each other."""
    apart = rule("not-together", "Harbour Star", "Strait Medal")
    assert told(judged("Harbour Star, Harbour Star", rules=[apart]), "not-together") == []


def test_needs():
    """An award that is never worn without another is an error where the other is missing."""
    need = rule("needs", "Strait Medal", "Harbour Star", "Delta Medal", because="it was given with one of them")
    verdict = judged("Valour Cross, Strait Medal", rules=[need])
    message = "Strait Medal (1.2) is not worn without Harbour Star or Delta Medal, which is not on the bar."
    assert told(verdict, "needs") == [("error", ("1.2",), message)]
    assert judged("Strait Medal, Delta Medal", rules=[need]).outcome == "in-order"
    assert judged("Valour Cross, Delta Medal", rules=[need]).outcome == "in-order"


def test_needs_in_doubt():
    """A ribbon that may be the one needed, named or not, makes it a warning; so does a doubtful holder."""
    need = rule("needs", "Strait Medal", "Delta Medal")
    for rows in ("Strait Medal, Delta Medal | Silver Jubilee Medal", "Strait Medal, ?"):
        (warning,) = told(judged(rows, rules=[need]), "needs")
        assert warning[0] == "warning"
        assert "which may not be on the bar" in warning[2]
    (warning,) = told(judged("Strait Medal | Harbour Star, Silver Jubilee Medal", rules=[need]), "needs")
    assert warning == (
        "warning",
        ("1.1",),
        "If the ribbon at 1.1 is Strait Medal, it is not worn without Delta Medal, which may not be on the bar.",
    )
    sure = judged("Strait Medal, Harbour Star | Silver Jubilee Medal", rules=[need])
    assert told(sure, "needs")[0][0] == "error"


def test_rules_that_leave_no_reading():
    """One reading breaks one rule and the other another: the bar is wrong, though no one rule is broken for certain."""
    rules = [rule("needs", "Strait Medal", "Delta Medal"), rule("not-together", "Delta Medal", "Silver Jubilee Medal")]
    rows = "Strait Medal, Delta Medal | Peace Mission Medal, Silver Jubilee Medal, Cadet Medal"
    verdict = judged(rows, rules=rules)
    assert verdict.outcome == "out-of-order"
    (error,) = [f for f in verdict.findings if f.severity == "error"]
    assert error.positions == ("1.1", "1.2", "1.3")
    assert error.message == "However the ribbons at 1.1, 1.2 and 1.3 are read, the sequence or a rule is broken."
    assert {f.kind for f in verdict.findings if f.severity == "warning"} == {"needs", "not-together"}
    assert judged(rows, rules=rules[:1]).outcome == "unconfirmed"


def test_worn_elsewhere():
    """An award for the other breast is an error on this bar, a warning where the ribbon may be another."""
    verdict = judged("Valour Cross, Unit Citation")
    (finding,) = [f for f in verdict.findings if f.kind == "out-of-place"]
    assert (finding.severity, finding.positions) == ("error", ("1.2",))
    assert finding.message == "Unit Citation (1.2) is not for this bar."
    assert finding.because == "it is worn elsewhere: right breast"
    assert told(verdict, "order-of-wear") == []
    verdict = judged("Valour Cross, Unit Citation | Cadet Medal")
    assert told(verdict, "out-of-place") == [
        ("warning", ("1.2",), "If the ribbon at 1.2 is Unit Citation, it is not for this bar.")
    ]


def test_bar_of_the_other_breast():
    """If all that was named is worn elsewhere, this is that other bar, and nothing is said against it."""
    assert told(judged("Unit Citation, ?"), "out-of-place") == []
    assert len(told(judged("Unit Citation, ?"), "order-of-wear")) == 1
    assert judged("Unit Citation, ?").outcome == "unconfirmed"


def test_need_of_something_worn_elsewhere_cannot_be_judged():
    """What is worn elsewhere cannot be missing from this bar."""
    assert told(judged("Strait Medal", rules=[rule("needs", "Strait Medal", "Unit Citation")]), "needs") == []
    assert told(judged("Unit Citation", rules=[rule("needs", "Unit Citation", "Strait Medal")]), "needs") == []
