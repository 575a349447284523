"""The finished bar against the work order."""

from hypothesis import given
from hypothesis import strategies as st

from ribbonbar.precedence.model import Held, Record, Slot
from ribbonbar.precedence.work_order import compare, emblem_findings
from tests.precedence.bars import CALDER, CALDER_ORDER, bar, key, order, record
from tests.precedence.test_brute_force import longest_increasing

ORDERED = Record(
    rows=(
        (key("Valour Cross"),),
        (key("Harbour Star"), key("Delta Medal"), key("Long Service Medal"), key("Cadet Medal")),
    )
)
SECOND = "Harbour Star, Delta Medal, Long Service Medal, Cadet Medal"


def told(*rows, ordered=ORDERED, of=None):
    findings = compare(bar(*rows), ordered, CALDER, of)
    assert all(f.because == "the work order says so" for f in findings)
    return [(f.kind, f.severity, f.positions) for f in findings]


def messages(*rows, ordered=ORDERED):
    return [f.message for f in compare(bar(*rows), ordered, CALDER)]


def test_bar_as_ordered():
    """A bar that stands as ordered has nothing said of it."""
    assert told("Valour Cross", SECOND) == []


def test_missing_ribbon():
    """A ribbon that is not there is missing, and the rest is not called out of place for it."""
    assert told("Valour Cross", "Harbour Star, Long Service Medal, Cadet Medal") == [("missing", "error", ())]
    assert messages("Valour Cross", "Harbour Star, Long Service Medal, Cadet Medal") == ["Delta Medal is missing."]


def test_extra_ribbon():
    """A ribbon that was not ordered is extra, at its position."""
    rows = ("Valour Cross, Strait Medal", SECOND)
    assert told(*rows) == [("extra", "error", ("1.2",))]
    assert messages(*rows) == ["Strait Medal (1.2) is not on the work order."]


def test_wrong_ribbon():
    """Another ribbon in place of the one ordered: one missing, one extra."""
    assert told("Valour Cross", "Harbour Star, Strait Medal, Long Service Medal, Cadet Medal") == [
        ("missing", "error", ()),
        ("extra", "error", ("2.2",)),
    ]


def test_swapped_ribbons():
    """Two ribbons in each other's place are told as swapped, whichever would be right by the order of wear."""
    rows = ("Valour Cross", "Delta Medal, Harbour Star, Long Service Medal, Cadet Medal")
    assert told(*rows) == [("swapped", "error", ("2.1", "2.2"))]
    assert messages(*rows) == ["Delta Medal (2.1) and Harbour Star (2.2) are swapped."]
    assert told("Cadet Medal", "Harbour Star, Delta Medal, Long Service Medal, Valour Cross") == [
        ("swapped", "error", ("1.1", "2.4"))
    ]


def test_one_ribbon_in_another_place():
    """A ribbon that slipped along the bar is told alone, with the place it was ordered for."""
    rows = ("Harbour Star", "Delta Medal, Long Service Medal, Valour Cross, Cadet Medal")
    assert told(*rows) == [("out-of-place", "error", ("2.3",))]
    assert messages(*rows) == ["Valour Cross (2.3) is ordered at 1.1."]


def test_other_rows():
    """The right ribbons in the right sequence, but in other rows, is not what was ordered."""
    rows = ("Valour Cross, Harbour Star", "Delta Medal, Long Service Medal, Cadet Medal")
    assert told(*rows) == [("row-layout", "error", ())]
    assert messages(*rows) == ["Rows of 2 and 3, top first, where 1 and 4 are ordered."]


def test_unidentified_ribbon_may_be_the_one_ordered():
    """A ribbon nobody can name may be the one that was not seen: a warning at its position."""
    assert told("Valour Cross", "Harbour Star, ?, Long Service Medal, Cadet Medal") == [
        ("missing", "warning", ("2.2",))
    ]
    assert told("?", "Harbour Star, Long Service Medal, Cadet Medal") == [
        ("missing", "warning", ("1.1",)),
        ("missing", "error", ()),
    ]


def test_unidentified_ribbons_are_taken_for_those_ordered_near_them():
    """Of several ribbons nobody can name, each is taken for the missing one ordered nearest to it."""
    assert messages("?", "Harbour Star, ?, Long Service Medal, Cadet Medal") == [
        "Valour Cross was not seen; it may be the unidentified ribbon at 1.1.",
        "Delta Medal was not seen; it may be the unidentified ribbon at 2.2.",
    ]


def test_ambiguous_ribbon_counts_as_any_of_its_awards():
    """An ambiguous ribbon fits if one of its awards was ordered, and is extra only if none was."""
    assert told("Valour Cross", "Harbour Star | Strait Medal, Delta Medal, Long Service Medal, Cadet Medal") == []
    assert told("Valour Cross", "Strait Medal | Foreign Star, Delta Medal, Long Service Medal, Cadet Medal") == [
        ("missing", "error", ()),
        ("extra", "error", ("2.1",)),
    ]


def test_two_alike_for_two_ordered():
    """Two ribbons that may each be either of two ordered ones fit, in the sequence ordered."""
    both = "Harbour Star | Delta Medal"
    assert told("Valour Cross", f"{both}, {both}, Long Service Medal, Cadet Medal") == []


def test_swap_in_doubt_is_a_warning():
    """If one of two swapped ribbons may be another award, it is a warning."""
    rows = ("Valour Cross", "Delta Medal | Foreign Star, Harbour Star, Long Service Medal, Cadet Medal")
    assert told(*rows) == [("swapped", "warning", ("2.1", "2.2"))]


def test_slip_in_doubt_is_a_warning():
    """If the ribbon that slipped, or all it slipped past, may be another award, it is a warning."""
    rows = ("Harbour Star", "Delta Medal, Long Service Medal, Valour Cross | Foreign Star, Cadet Medal")
    assert told(*rows) == [("out-of-place", "warning", ("2.3",))]
    others = "Delta Medal | Foreign Star, Long Service Medal | Foreign Star, Valour Cross, Cadet Medal"
    assert told("Harbour Star | Foreign Star", others) == [("out-of-place", "warning", ("2.3",))]


def test_one_of_two_is_missing():
    """One ribbon that may be either of two ordered: one of them is missing, and it is not said which."""
    rows = ("Valour Cross", "Harbour Star | Delta Medal, Long Service Medal, Cadet Medal")
    assert told(*rows) == [("missing", "error", ())]
    assert messages(*rows) == ["One of Harbour Star and Delta Medal is missing."]


def test_second_ribbon_of_one_award_is_extra():
    """A ribbon mounted twice is one more than ordered."""
    ordered = record("Valour Cross", "Harbour Star")
    rows = ("Valour Cross, Harbour Star, Harbour Star",)
    assert told(*rows, ordered=ordered) == [("extra", "error", ("1.3",))]
    assert messages(*rows, ordered=ordered) == ["There is a ribbon more than ordered, taken to be the one at 1.3."]


def test_without_rows_only_what_is_carried_is_compared():
    """A work order without rows leaves the sequence and the layout to the order of wear."""
    ordered = record("Valour Cross", "Harbour Star", "Unit Citation")
    assert told("Harbour Star", "Valour Cross", ordered=ordered) == []
    assert told("Harbour Star", ordered=ordered) == [("missing", "error", ())]


def test_award_held_twice_is_one_ribbon():
    """An award held twice gets one ribbon, unless the service allows a second."""
    ordered = record("Valour Cross", "Harbour Star", "Harbour Star")
    assert told("Valour Cross, Harbour Star", ordered=ordered, of=CALDER_ORDER) == []
    second = order(*CALDER_ORDER.groups, second_ribbon=True)
    assert told("Valour Cross, Harbour Star, Harbour Star", ordered=ordered, of=second) == []
    assert told("Valour Cross, Harbour Star", ordered=ordered, of=second) == [("missing", "error", ())]


def test_emblems():
    """Emblems seen are compared by number with those ordered, and a difference is never more than a warning."""
    ordered = Record(
        held=(
            Held(key("Harbour Star"), emblems=("rosette",)),
            Held(key("Valour Cross")),
            Held(key("Delta Medal"), emblems=("oak leaf", "numeral")),
        )
    )
    rows = bar("Valour Cross, Harbour Star, Delta Medal, Cadet Medal, Delta Medal | Harbour Star, ?")
    assert emblem_findings(rows, {"1.2": ["rosette"], "1.3": ["numeral", "leaf"]}, ordered, CALDER) == ()
    found = emblem_findings(rows, {"1.1": ["star"], "1.3": ["leaf"], "1.4": ["star"]}, ordered, CALDER)
    assert {f.severity for f in found} == {"warning"}
    assert [f.message for f in found] == [
        "1 emblem seen on Valour Cross (1.1); ordered: none.",
        "0 emblems seen on Harbour Star (1.2); ordered: rosette.",
        "1 emblem seen on Delta Medal (1.3); ordered: oak leaf and numeral.",
    ]


LETTERS = "abcde"
slots = st.lists(st.lists(st.sampled_from(LETTERS), max_size=3, unique=True), max_size=5).map(
    lambda candidates: tuple(Slot(f"1.{i}", tuple(each)) for i, each in enumerate(candidates, 1))
)


@given(slots, st.lists(st.sampled_from(LETTERS), min_size=1, max_size=5, unique=True))
def test_missing_and_extra_are_errors_only_when_nothing_fits(row, wanted):
    """The errors count exactly the ordered ribbons, and the ribbons seen, that no way of reading the bar pairs off."""
    found = compare((row,), Record(rows=(tuple(wanted),)), CALDER)

    def pairs(i, free):
        if i == len(row):
            return 0
        best = pairs(i + 1, free)
        for award in free:
            if not row[i].awards or award in row[i].awards:
                best = max(best, 1 + pairs(i + 1, free - {award}))
        return best

    most = pairs(0, frozenset(wanted))
    errors = [f.kind for f in found if f.severity == "error"]
    assert errors.count("missing") == len(wanted) - most
    assert errors.count("extra") == len(row) - most


@given(st.permutations(LETTERS), st.permutations(LETTERS))
def test_mending_what_is_told_gives_the_bar_ordered(seen, wanted):
    """Swapping the pairs told and moving the ribbons told makes the bar that was ordered."""
    row = tuple(Slot(f"1.{i}", (each,)) for i, each in enumerate(seen, 1))
    found = compare((row,), Record(rows=(tuple(wanted),)), CALDER)
    assert {f.severity for f in found} <= {"error"}
    assert bool(found) == (seen != wanted)
    assert len(found) <= len(LETTERS) - longest_increasing([wanted.index(each) for each in seen])
    mended = list(seen)
    for finding in found:
        if finding.kind == "swapped":
            i, j = (int(p[2:]) - 1 for p in finding.positions)
            mended[i], mended[j] = mended[j], mended[i]
    moved = [seen[int(f.positions[0][2:]) - 1] for f in found if f.kind == "out-of-place"]
    assert [each for each in mended if each not in moved] == [each for each in wanted if each not in moved]
