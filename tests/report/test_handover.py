"""The handover sheet that goes with a finished bar."""

from dataclasses import replace

from ribbonbar.findings import Finding
from ribbonbar.report.html import handover
from tests.report.pages import ON, Held, Job, Page, crops


def test_the_sheet_carries_job_date_and_verdict(verified, ordered_rows, specification):
    """Job number, day, verdict, each place, the specification editions."""
    text = Page(handover(verified, crops(verified), specification, Job(rows=ordered_rows), ON)).text
    for words in ("Handover sheet: job 1042", "17 May 2031", "Not as ordered", "2 ribbons are swapped.", "As finished"):
        assert words in text
    assert "2.3 ! Jubilee Medal at 2.4; swapped" in text
    assert "1.1 Valour Cross in place" in text
    assert "Specification files: tarn.toml 0123456789ab" in text
    assert verified.photo.sha256 in text


def test_missing_and_extra_ribbons_have_their_line(in_order, ordered_rows, specification):
    """What was ordered and is not there, and what is there and was not ordered."""
    rows = (ordered_rows[0], (*ordered_rows[1][:3], "tarn/ice-medal"))
    text = Page(handover(in_order, crops(in_order), specification, Job(rows=rows), ON)).text
    assert "2.4 ! Ice Patrol Medal missing" in text
    assert "2.4 ? nothing Long Service and Good Conduct Medal" in text


def test_ordered_emblems_are_named(verified, ordered_rows, specification):
    """The tailor reads which emblem belongs on which ribbon."""
    job = Job(rows=ordered_rows, held=(Held("tarn/harbour-star", ("silver rosette",)),))
    text = Page(handover(verified, crops(verified), specification, job, ON)).text
    assert "Harbour Star with silver rosette" in text


def test_a_job_without_rows_is_held_against_the_proposal(in_order, specification):
    """A work order that only names the awards gets its sheet too; so does a bar without any work order."""
    for job in (Job(held=(Held("tarn/heron"),)), None):
        text = Page(handover(in_order, crops(in_order), specification, job, ON)).text
        assert "In order" in text and text.count("in place") == 6


def test_a_mirrored_photo_of_a_right_bar_accuses_nobody(in_order, ordered_rows, specification):
    """Positions run the other way on a mirrored photo; without a finding, a ribbon is in place."""
    bar = in_order.bars[0]
    rows = tuple(
        tuple(replace(p, position=f"{r}.{len(row) + 1 - i}") for i, p in enumerate(row, 1))
        for r, row in enumerate(bar.rows, 1)
    )
    flipped = replace(
        in_order,
        bars=(replace(bar, rows=rows),),
        proposed_positions=("1.2", "1.1", "2.4", "2.3", "2.2", "2.1"),
        findings=(Finding("mirrored-photo", ("1.1", "1.2"), "warning", "The photograph looks mirrored."),),
    )
    text = Page(handover(flipped, (), specification, Job(rows=ordered_rows), ON)).text
    assert text.count("in place") == 6 and "missing" not in text
