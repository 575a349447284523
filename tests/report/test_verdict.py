"""What the findings come to: headline, reasons, what to do, a word beside a ribbon."""

from dataclasses import replace
from typing import get_args

import pytest

from ribbonbar.findings import Finding, Kind
from ribbonbar.report import verdict
from ribbonbar.report.layout import as_it_should_be
from ribbonbar.spec.model import Specification
from tests.report.conftest import candidate, keys, position, report_on


def test_the_outcome_is_said_in_one_sentence(in_order, out_of_order, doubtful, no_bar, verified):
    """A tailor reads the verdict and its reasons before anything else."""
    said = {verdict.title(r): verdict.summary(r) for r in (in_order, out_of_order, doubtful, no_bar, verified)}
    assert said == {
        "In order": "All 6 ribbons are recognised, and they stand in the published sequence.",
        "Out of order": "2 ribbons are in the wrong place and 1 ribbon is mounted back to front.",
        "Not confirmed": "No ribbon is proved to be in the wrong place, but 1 ribbon is not certain "
        "and 1 ribbon is not recognised.",
        "No ribbon bar found": "No bar in this picture could be read.",
        "Not as ordered": "2 ribbons are swapped.",
    }
    assert verdict.title(replace(in_order, work_order="job 1")) == "As ordered"


def test_what_is_to_be_turned_is_said_of_a_bar_in_order_too(in_order):
    """In order, but one ribbon back to front: the sentence says both."""
    turned = replace(in_order, findings=(Finding("reversed", ("1.2",), "warning", "m"),))
    assert verdict.summary(turned).endswith("in the published sequence; 1 ribbon is mounted back to front.")
    mirrored = replace(in_order, findings=(Finding("mirrored-photo", ("1.1", "1.2"), "warning", "m"),))
    assert verdict.summary(mirrored).endswith("; the photo looks mirrored.")


@pytest.mark.parametrize("kind", get_args(Kind))
@pytest.mark.parametrize("severity", ["error", "warning", "note"])
def test_every_kind_of_finding_has_its_words(kind, severity):
    """No kind of finding breaks the sentence or is lost from the lists."""
    finding = Finding(kind, ("1.1",), severity, "m")
    outcome = "out-of-order" if severity == "error" else "unconfirmed"
    report = report_on((position(1, 1, 1, candidate("heron")),), outcome=outcome, findings=(finding,))
    said = verdict.summary(report)
    assert said.endswith(".") and ".." not in said and "{" not in said and len(said) > 12
    assert [f for group in verdict.groups(report) for f in group.findings] == [finding]
    verdict.remark(finding)


def test_findings_are_sorted_by_what_they_ask(out_of_order, doubtful, no_bar):
    """To do, not settled, noted; a ribbon back to front is something to do, though it breaks no sequence."""
    assert [(g.title, [f.kind for f in g.findings]) for g in verdict.groups(out_of_order)] == [
        ("What to do", ["out-of-place", "out-of-place", "reversed"])
    ]
    assert [(g.title, len(g.findings)) for g in verdict.groups(doubtful)] == [("What is not settled", 2)]
    assert [g.title for g in verdict.groups(no_bar)] == ["What to do"]
    assert "--corners" in verdict.groups(replace(no_bar, findings=()))[0].findings[0].because


def test_a_possible_fault_is_not_told_as_a_fault(perhaps_wrong):
    """A warning accuses nothing: no exclamation mark, no 'wrong place' without 'perhaps'."""
    place = perhaps_wrong.bars[0].rows[1][0]
    assert verdict.sign(perhaps_wrong, place) == verdict.DOUBTFUL
    assert verdict.remarks(perhaps_wrong, place) == ["perhaps: wrong place"]
    assert "wrong place" not in verdict.summary(perhaps_wrong).replace("proved to be in the wrong place", "")
    lenient = replace(
        perhaps_wrong,
        proposed_order=keys("harbour-star", "valour-cross"),
        proposed_positions=("2.1", "1.1"),
        to_move=("2.1",),
    )
    slot = as_it_should_be(lenient)[0][0]
    assert verdict.slot_sign(slot, lenient) == verdict.DOUBTFUL
    assert "perhaps moved from 2.1" in verdict.slot_notes(slot, lenient, Specification())


def test_signs_stand_for_wrong_and_doubtful(out_of_order, doubtful):
    """Nothing is said by colour alone."""
    assert [verdict.sign(out_of_order, p) for p in out_of_order.bars[0].rows[1]] == ["", "!", "!", "!"]
    assert [verdict.sign(doubtful, p) for p in doubtful.bars[0].rows[1]] == ["?", "", "?", ""]


def test_a_message_names_its_positions_once():
    """Where the text does not say which ribbon it means, its position is put before it."""
    assert verdict.message(Finding("ambiguous", ("2.1",), "note", "This ribbon may be A or B.")) == (
        "2.1: This ribbon may be A or B."
    )
    assert verdict.message(Finding("out-of-place", ("2.1",), "error", "A (2.1) must move.")) == "A (2.1) must move."
    assert verdict.message(Finding("mirrored-photo", tuple("123456"), "warning", "Mirrored.")) == "Mirrored."


def test_a_reason_is_a_sentence():
    """Clauses become sentences; sentences stay as they are."""
    reasons = [verdict.reason(Finding("needs", (), "error", "m", because)) for because in ("", "it is so", "It is so.")]
    assert reasons == ["", "It is so.", "It is so."]
