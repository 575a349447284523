"""Asking about the ribbons in doubt: only those, each candidate in words and drawn, answered by number or by name."""

import json
from functools import cache

from ribbonbar.asking import ask
from ribbonbar.console import Screen
from ribbonbar.report.model import Bar, Candidate, Photo, Position, Report
from ribbonbar.spec.reader import read_specification
from tests.cli.desk import LORRANDY, SAMPLES

CORNERS = ((0.0, 0.0), (40.0, 0.0), (40.0, 12.0), (0.0, 12.0))
COASTGUARD, LIGHTHOUSE = "lorrandy/coastguard-long-service-medal", "lorrandy/lighthouse-long-service-medal"
GREY = ((50.0, 0.0, 0.0),) * 8


@cache
def specification():
    return read_specification([LORRANDY])


def may_be(award: str, probability: float, ribbon: str = "") -> Candidate:
    return Candidate(award, ribbon or specification().awards[award].ribbons[0].id, False, probability)


def bar(*positions: Position) -> Report:
    return Report(Photo("x.jpg", 400, 300, ""), "unconfirmed", "", (Bar(CORNERS, (positions,)),))


CERTAIN = Position("1.1", CORNERS, "identified", (may_be("lorrandy/polar-survey-medal", 0.99),))
BY_HAND = Position("1.2", CORNERS, "ambiguous", (may_be(COASTGUARD, 1.0),), given_by_hand=True)
EITHER = Position("1.3", CORNERS, "ambiguous", (may_be(LIGHTHOUSE, 0.5), may_be(COASTGUARD, 0.49)), seen=GREY)
STRANGE = Position("1.4", CORNERS, "unidentified", (may_be("lorrandy/keddle-isles-medal", 0.02),))


def asked(report: Report, *typed: str, screen: Screen = Screen()) -> tuple[dict[str, str], str]:  # noqa: B008
    """The answers and everything shown; when what is typed has run out, nobody answers any more."""
    shown: list[str] = []
    lines = iter(typed)
    answers = ask(report, specification(), screen, shown.append, lambda: next(lines, ""))
    return answers, "".join(shown)


def test_only_doubtful_ribbons_are_asked_about():
    """Neither what was recognised nor what was given by hand."""
    answers, shown = asked(bar(CERTAIN, BY_HAND, EITHER, STRANGE), "\n", "\n")
    assert answers == {}
    assert shown.count("in doubt)") == 2
    assert "Ribbon 1.3 (1 of 2 in doubt) may be one of these" in shown
    assert "Ribbon 1.4 (2 of 2 in doubt) is not recognised; nearest is this" in shown


def test_where_nothing_is_in_doubt_nothing_is_asked():
    """And that is said."""
    assert asked(bar(CERTAIN)) == ({}, "Nothing to ask: no ribbon on this bar is in doubt.\n")


def test_a_candidate_is_chosen_by_its_number():
    """Each with its name, how likely, and how the ribbon looks in words."""
    answers, shown = asked(bar(EITHER), "2\n")
    assert answers == {"1.3": COASTGUARD}
    assert "1  Lighthouse Long Service Medal (50 %)" in shown
    assert "2  Coastguard Long Service Medal (49 %)" in shown
    assert "green edges, broad royal blue" in shown
    assert "\x1b" not in shown


def test_any_award_can_be_named_instead():
    """By name, whatever the case; the ribbon that is none of the candidates gets its name too."""
    answers, _ = asked(bar(EITHER, STRANGE), "\n", "tamarin strait medal\n")
    assert answers == {"1.4": "lorrandy/tamarin-strait-medal"}


def test_what_is_not_understood_is_asked_again():
    """A number that is not there, a name that is not there: why, and the question once more."""
    answers, shown = asked(bar(EITHER), "3\n", "0\n", "9" * 5000 + "\n", "Lighthous Long Service\n", "1\n")
    assert answers == {"1.3": LIGHTHOUSE}
    assert "There is no 3." in shown
    assert f"did you mean {LIGHTHOUSE}" in shown


def test_end_of_input_keeps_what_was_answered():
    """Ctrl-D at the second question: the first answer counts."""
    assert asked(bar(EITHER, STRANGE), "1\n")[0] == {"1.3": LIGHTHOUSE}


def test_an_award_with_two_patterns_is_one_choice():
    """What is asked is the award; its likelier pattern is shown."""
    twice = Position("1.1", CORNERS, "ambiguous", (*EITHER.candidates, may_be(LIGHTHOUSE, 0.01, "other")))
    _, shown = asked(bar(twice), "\n")
    assert shown.count("Lighthouse Long Service Medal") == 1


def test_on_a_colour_terminal_the_ribbons_are_drawn():
    """What was seen first, then each candidate under it, in line."""
    _, shown = asked(bar(EITHER), "\n", screen=Screen(80, True))
    seen, first, second = (line for line in shown.splitlines() if "\x1b[" in line)
    assert seen.index("\x1b") == first.index("\x1b") == second.index("\x1b")
    assert "seen" in seen


def test_the_samples_shared_ribbon_is_what_the_question_is_for():
    """The truth beside the sample names both awards of that ribbon."""
    truth = json.loads((SAMPLES / "shared-ribbon.json").read_text())["bars"][0]["ribbons"][-1]
    assert {truth["award"], *truth["also"]} == {COASTGUARD, LIGHTHOUSE}
