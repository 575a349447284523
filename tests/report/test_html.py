"""The HTML report of one photo."""

from dataclasses import replace

from ribbonbar.report.html import page
from tests.report.pages import Page, crops


def test_the_page_says_the_outcome_and_why(out_of_order, specification):
    """Outcome, reasons, what to do with the rule and its source."""
    shown = Page(page(out_of_order, crops(out_of_order), specification))
    assert shown.text.index("Out of order") < shown.text.index("2 ribbons are in the wrong place and 1 ribbon")
    assert "Strait Medal (2.4) must stand before Lamp Medal (2.3); its place is 2.2." in shown.text
    assert "1 June 1960 is before 1 January 1970." in shown.text
    assert "Source: Royal warrant of Tarn, 1972 (invented)" in shown.text
    assert "As photographed" in shown.text and "As it should be" in shown.text
    assert "Strait Medal – moved from 2.4" in shown.text and "turned the right way round" in shown.text


def test_each_ribbon_shows_what_was_seen_over_its_published_pattern(out_of_order, specification):
    """The cut-out, the colours as read, the pattern as published, in this sequence, for every ribbon."""
    shown = Page(page(out_of_order, crops(out_of_order), specification))
    alts = [image["alt"] for image in shown.all("img")]
    for place in ("1.1", "1.2", "2.1", "2.2", "2.3", "2.4"):
        at = alts.index(f"Photograph of ribbon {place}")
        assert alts[at + 1] == "Its colours as read, left to right"
        assert alts[at + 2].startswith("Published pattern of the ")
    assert "Published pattern of the Lamp Medal, mounted back to front: left to right: green, gold" in alts
    assert "Published pattern of the Harbour Star: navy edges, narrow white, sky blue centre" in alts


def test_each_award_is_explained(out_of_order, specification):
    """What it is, its qualifying dates, how sure that is, what may be worn on it."""
    text = Page(page(out_of_order, crops(out_of_order), specification)).text
    assert "1 March 1951 to 31 October 1954; Royal warrant of Tarn, 1972 (invented)" in text
    assert "since 1 January 1970 (from memory, not from a source)" in text
    assert "silver rosette (clasp held)" in text and "seen on it rosette" in text
    assert "Campaign medals" in text and "Gallantry" in text


def test_doubtful_ribbons_show_what_tells_them_apart(doubtful, specification):
    """Both patterns drawn, and where to look on each."""
    shown = Page(page(doubtful, crops(doubtful), specification))
    assert "Harbour Star, 55 %. Look for: edges navy." in shown.text
    assert "Strait Medal, 43 %. Look for: edges black." in shown.text
    alts = [image["alt"] for image in shown.all("img")]
    assert "Published pattern: black edges, narrow white, sky blue centre" in alts
    assert "given by hand" in shown.text and "not recognised" in shown.text


def test_a_photo_read_out_says_what_the_eye_sees(out_of_order, specification):
    """The alternative text of the photograph names every ribbon and what is wrong with it."""
    alt = next(i["alt"] for i in Page(page(out_of_order, crops(out_of_order), specification)).all("img"))
    assert alt.startswith("Photograph of the bar, 6 ribbons in 2 rows: 1.1 Valour Cross; ")
    assert "2.4 Strait Medal, wrong place" in alt and "2.3 Lamp Medal, back to front" in alt


def test_without_a_crop_the_page_is_made_all_the_same(out_of_order, doubtful, specification):
    """A report read back from a file has no picture: the drawings and words stand."""
    for report in (out_of_order, doubtful):
        shown = Page(page(report, (), specification))
        assert "As photographed" not in shown.text and "Strait Medal" in shown.text


def test_another_specification_leaves_keys_instead_of_names(out_of_order, specification):
    """Awards that the specification at hand does not have are named by their keys; nothing breaks."""
    bare = replace(specification, awards={}, orders={}, sources={})
    assert "tarn/strait-medal" in Page(page(out_of_order, crops(out_of_order), bare)).text
