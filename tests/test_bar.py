"""Given these readings of a bar, expect this verdict: reading and order of wear joined."""

from dataclasses import replace

import numpy as np
import pytest

from ribbonbar.bar import judge_bar, slots_of
from ribbonbar.facing import Facing, facing_of, turned_about
from ribbonbar.options import AuditOptions
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.model import BarReading, EmblemSeen, Reading, RibbonCandidate
from ribbonbar.spec.model import Group, OrderOfWear, Specification
from tests.reading.cloth import RIBBONS, catalogue, ribbon

ORDER = OrderOfWear(
    "calder/forces",
    "Order of wear, Calder forces",
    (
        Group("crosses", "Crosses", "listed", ("calder/valour-cross", "calder/order-of-merit", "calder/flying-cross")),
        Group("medals", "Medals", "listed", ("calder/harbour-star", "calder/polar-medal", "calder/sea-medal")),
        Group("long", "Long service", "listed", ("calder/jubilee", "calder/long-service", "calder/half")),
    ),
)


def specification() -> Specification:
    made = catalogue()
    made.awards["calder/half"] = made.awards["calder/polar-medal"].__class__(
        "calder/half", "Half", ribbons=(ribbon(*((s.start, s.width) for s in RIBBONS["polar-medal"].stripes[::-1])),)
    )
    made.orders[ORDER.key] = ORDER
    return made


def reading(*awards: str, status: str = "identified", reversed: bool = False, emblems=()) -> Reading:
    share = 0.98 / max(len(awards), 1)
    candidates = tuple(RibbonCandidate(f"calder/{a}", "standard", reversed, share) for a in awards)
    return Reading((0.0, 1.0), status, candidates, emblems, np.zeros((2, 3)), 20.0, 10.0, -60.0)


STRANGER = reading("sea-medal", status="unidentified")


def bar(*rows: list[Reading]) -> BarReading:
    return BarReading(tuple(tuple(row) for row in rows), NEUTRAL)


def judged(*rows: list[Reading], **options):
    return judge_bar(bar(*rows), specification(), AuditOptions(order=ORDER.key, **options))


def kinds(result, severity: str) -> list[str]:
    return [finding.kind for finding in result.findings if finding.severity == severity]


def test_senior_at_the_viewers_left_is_in_order():
    """A cross, a medal, a long service medal: nothing to say."""
    result = judged([reading("valour-cross"), reading("harbour-star"), reading("long-service")])
    assert (result.outcome, result.findings) == ("in-order", ())


def test_a_medal_before_a_cross_is_an_error():
    """The one ribbon out of place is named."""
    result = judged([reading("harbour-star"), reading("valour-cross"), reading("long-service"), reading("half")])
    assert result.outcome == "out-of-order"
    assert kinds(result, "error") == ["out-of-place"]


def test_a_ribbon_back_to_front_in_a_right_sequence_is_a_warning():
    """The sequence stays right; the ribbon is to be turned about."""
    row = [reading("valour-cross"), reading("polar-medal", reversed=True), reading("long-service")]
    result = judged(row)
    assert result.outcome == "in-order"
    assert kinds(result, "warning") == ["reversed"]


def test_an_unidentified_ribbon_leaves_the_bar_unconfirmed():
    """It accuses nobody and is never guessed."""
    result = judged([reading("valour-cross"), STRANGER, reading("long-service")])
    assert result.outcome == "unconfirmed"
    assert kinds(result, "warning") == ["unidentified"]
    assert result.verdict.proposed_order[1] == "unidentified"


def test_nobody_is_accused_when_half_the_bar_is_not_recognised():
    """With so little read the light may be misjudged, and the two that seem sure with it."""
    result = judged([reading("long-service"), STRANGER, STRANGER, reading("valour-cross")])
    assert result.outcome == "unconfirmed"
    assert kinds(result, "error") == []
    assert "out-of-place" in kinds(result, "warning")
    surer = judged([reading("long-service"), reading("half"), STRANGER, reading("valour-cross")])
    assert surer.outcome == "out-of-order"


def doubtful(**shares: float) -> Reading:
    """An ambiguous ribbon: the probability of each award that it may be."""
    keys = {f"calder/{award.replace('_', '-')}": share for award, share in shares.items()}
    candidates = tuple(RibbonCandidate(key, "standard", False, share) for key, share in keys.items())
    return replace(reading("jubilee", status="ambiguous"), candidates=candidates)


def test_a_remote_alternative_does_not_keep_a_right_bar_open():
    """What is one time in fifteen another award is judged as what it looks like, and both are named in a note."""
    result = judged([reading("valour-cross"), doubtful(harbour_star=0.9, long_service=0.06), reading("long-service")])
    assert result.outcome == "in-order"
    (note,) = result.findings
    assert (note.kind, note.severity, note.positions) == ("ambiguous", "note", ("1.2",))
    assert "looks like Harbour Star" in note.message
    assert "Long Service" in note.because


def test_a_likelier_alternative_keeps_it_open():
    """One time in four it would be out of place: that is said, and nothing is confirmed."""
    result = judged([reading("valour-cross"), doubtful(harbour_star=0.72, long_service=0.25), reading("half")])
    assert result.outcome == "unconfirmed"


def test_an_alternative_a_third_as_likely_does_not_keep_it_open():
    """The twin is named and the bar confirmed; were the twin the one in its place, nobody would be accused."""
    result = judged([reading("harbour-star"), doubtful(long_service=0.77, valour_cross=0.22)])
    assert (result.outcome, kinds(result, "note")) == ("in-order", ["ambiguous"])
    turned = judged([reading("harbour-star"), doubtful(valour_cross=0.77, long_service=0.22)])
    assert (turned.outcome, kinds(turned, "error")) == ("unconfirmed", [])


def test_awards_that_share_a_ribbon_are_all_heard_however_many():
    """Each has a small part of the probability; together they are the likeliest look."""
    alike = doubtful(harbour_star=0.12, polar_medal=0.12, sea_medal=0.12, jubilee=0.12, long_service=0.52)
    (row,) = slots_of(bar([alike]), "", {})
    assert len(row[0].awards) == 5


def test_nobody_is_accused_for_a_ribbon_that_may_be_none_of_them():
    """Seven in ten that it is a cross behind a medal: a warning, since it may be a ribbon that is not listed."""
    result = judged([reading("harbour-star"), doubtful(valour_cross=0.7), reading("long-service")])
    assert (result.outcome, kinds(result, "error")) == ("unconfirmed", [])
    assert "out-of-place" in kinds(result, "warning")
    surer = judged([reading("harbour-star"), doubtful(valour_cross=0.85), reading("long-service")])
    assert surer.outcome == "out-of-order"


def test_what_the_user_has_named_is_not_doubted():
    """No note says that it is not certain, and it counts as an error where it stands wrongly."""
    row = [reading("harbour-star"), doubtful(valour_cross=0.7), reading("long-service")]
    result = judged(row, answers={"1.2": "calder/valour-cross"})
    assert result.outcome == "out-of-order"
    assert "ambiguous" not in kinds(result, "note")


def test_what_is_wrong_without_the_doubtful_ribbon_stays_an_error():
    """The medal stands before the cross whatever the third ribbon is."""
    result = judged([reading("harbour-star"), reading("valour-cross"), doubtful(long_service=0.6)])
    assert result.outcome == "out-of-order"


def test_a_mirrored_photograph_is_said_once_instead_of_a_dozen_errors():
    """Every asymmetrical ribbon turned and the row running junior to senior: a selfie."""
    row = [reading("half", reversed=True), reading("polar-medal", reversed=True), reading("valour-cross")]
    result = judged(row)
    assert result.outcome == "in-order"
    assert kinds(result, "warning") == ["mirrored-photo"]
    assert [p.position for p in result.seen[0]] == ["1.1", "1.2", "1.3"]
    assert "looks mirrored or upside down;" in result.findings[0].message  # one row of upright stripes cannot say


def test_two_rows_tell_a_mirrored_photograph_from_one_upside_down():
    """The senior ribbons stand in the upper row; only the sequence within each row runs the other way."""
    upper = [reading("polar-medal", reversed=True), reading("valour-cross")]
    result = judged(upper, [reading("half", reversed=True), reading("long-service")])
    assert "looks mirrored;" in result.findings[0].message


@pytest.mark.parametrize(("share", "facing"), [(0.97, Facing.MIRRORED), (0.6, Facing.AS_WORN)])
def test_a_ribbon_that_may_be_another_says_less_about_the_photograph(share, facing):
    """Two back to front make a mirrored picture; two that are perhaps strangers do not."""
    turned = [reading(name, reversed=True) for name in ("half", "polar-medal")]
    row = [replace(one, candidates=(replace(one.candidates[0], probability=share),)) for one in turned]
    seen = slots_of(bar(row), "", {})
    assert facing_of(bar(row), seen, specification(), None).facing is facing


def test_an_upside_down_photograph_is_noticed():
    """Rows and places are turned; diagonals look the same upside down."""
    rows = [
        [reading("half", reversed=True), reading("long-service")],
        [reading("polar-medal", reversed=True), reading("flying-cross")],
    ]
    result = judged(*rows)
    assert "upside-down" in kinds(result, "warning")
    assert result.outcome == "in-order"


def test_one_turned_ribbon_in_a_right_row_is_no_mirror():
    """A single ribbon back to front is mounted so; the rest of the bar says which way round the picture is."""
    row = [reading("valour-cross"), reading("harbour-star"), reading("polar-medal", reversed=True), reading("half")]
    seen = slots_of(bar(row), "", {})
    assert facing_of(bar(row), seen, specification(), ORDER).facing is Facing.AS_WORN


@pytest.mark.parametrize("facing", Facing)
def test_turning_about_twice_changes_nothing(facing):
    """Mirrored and upside down are their own opposites."""
    rows = slots_of(bar([reading("half"), reading("jubilee")], [reading("valour-cross")]), "", {})
    assert turned_about(turned_about(rows, facing), facing) == rows


def test_a_ribbon_named_by_hand_counts_as_named():
    """The answer settles the position, and it is marked."""
    row = [reading("valour-cross"), reading("harbour-star", "sea-medal", status="ambiguous"), reading("long-service")]
    assert judged(row).outcome == "unconfirmed"
    result = judged(row, answers={"1.2": "calder/sea-medal"})
    assert result.outcome == "in-order"
    assert result.by_hand == {"1.2"}


def off_line(order: OrderOfWear, rows, edges_mm) -> list[str]:
    made = specification()
    made.orders[order.key] = order
    result = judge_bar(bar(*rows), made, AuditOptions(order=order.key), edges_mm=edges_mm)
    return [finding.message for finding in result.findings if finding.kind == "row-layout"]


def test_a_short_row_off_its_place_is_a_warning():
    """The order wants the short row centred; a mirrored picture or an unknown ribbon changes what can be said."""
    centred = replace(ORDER, ribbons_per_row=2, short_row_align="centre")
    rows = [[reading("valour-cross")], [reading("harbour-star"), reading("long-service")]]
    assert off_line(centred, rows, ((16.0, 48.0), (0.0, 64.0))) == []
    assert off_line(centred, rows, ((0.0, 32.0), (0.0, 64.0))) == ["Row 1 is 16 mm off being centred."]
    strange = [[STRANGER], rows[1]]
    assert off_line(centred, strange, ((0.0, 32.0), (0.0, 64.0))) == []


def test_in_line_with_the_senior_end_is_the_viewers_left_unless_the_picture_is_mirrored():
    """The senior end of a mirrored bar is seen on the right."""
    senior = replace(ORDER, ribbons_per_row=3, short_row_align="senior")
    row = [reading("half", reversed=True), reading("polar-medal", reversed=True), reading("order-of-merit")]
    mirrored = [[reading("valour-cross")], row]
    assert off_line(senior, mirrored, ((70.0, 102.0), (0.0, 102.0))) == []
    assert len(off_line(senior, mirrored, ((0.0, 32.0), (0.0, 102.0)))) == 1


def test_a_picture_too_small_for_its_stripes_says_so():
    """What limits the reading is a finding of its own."""
    fine = reading("harbour-star", "sea-medal", status="ambiguous")
    coarse = Reading(**{**vars(fine), "pixels_per_stripe": 3.0})
    assert "too-small" in kinds(judged([reading("valour-cross"), coarse]), "note")
    assert "too-small" not in kinds(judged([reading("valour-cross"), fine]), "note")


def test_an_emblem_seen_changes_no_verdict():
    """Emblems are reported, not judged, without a work order."""
    rosette = EmblemSeen("emblem", 0.5, 0.5, 7.0)
    result = judged([reading("valour-cross", emblems=(rosette,)), reading("harbour-star")])
    assert result.outcome == "in-order"
