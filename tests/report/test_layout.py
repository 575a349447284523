"""The bar as it should be, in the rows of the bar as photographed."""

from dataclasses import replace

from ribbonbar.report.layout import as_it_should_be, as_ordered, slot_ribbon
from tests.report.conftest import candidate, keys, position, report_on


def _told(rows):
    return [(s.number, s.award.removeprefix("tarn/"), s.was, s.moved) for row in rows for s in row]


def test_a_wrong_bar_is_laid_out_as_it_should_be(out_of_order):
    """Two above, four below, as photographed; each slot says where its ribbon stands now and whether it moves."""
    rows = as_it_should_be(out_of_order)
    assert [len(row) for row in rows] == [2, 4]
    assert _told(rows)[2:] == [
        ("2.1", "harbour-star", "2.1", False),
        ("2.2", "strait-medal", "2.4", True),
        ("2.3", "lamp-medal", "2.3", False),
        ("2.4", "jubilee", "2.2", True),
    ]


def test_without_stated_positions_ribbons_are_matched_by_name(out_of_order, doubtful):
    """Reports written before positions were stated give the same drawing."""
    for report in (out_of_order, doubtful):
        older = replace(report, proposed_positions=())
        assert _told(as_it_should_be(older)) == _told(as_it_should_be(report))


def test_positions_that_cannot_be_are_not_believed(out_of_order):
    """A tampered list of positions falls back to matching by name."""
    for lie in (("9.9",) * 6, ("1.1",) * 6, ("1.1",)):
        assert _told(as_it_should_be(replace(out_of_order, proposed_positions=lie))) == _told(
            as_it_should_be(out_of_order)
        )


def test_each_bar_of_a_picture_keeps_its_own_rows(two_bars):
    """Two bars on one picture are laid out one after the other, each position named as on the photo."""
    rows = as_it_should_be(two_bars)
    assert [len(row) for row in rows] == [2, 4, 2, 4]
    assert _told(rows)[9] == ("2/2.2", "strait-medal", "2/2.4", True)


def test_a_ribbon_nobody_could_name_keeps_its_place(doubtful, specification):
    """An unknown ribbon is drawn as unknown, not left out."""
    slot = as_it_should_be(doubtful)[1][2]
    assert (slot.award, slot.was, slot.moved) == ("", "2.3", False)
    assert slot_ribbon(slot, specification) is None


def test_look_alikes_that_stand_right_are_not_said_to_move():
    """Two ribbons that may each be either award: the proposed order takes them as they stand."""
    both = candidate("harbour-star", 0.5), candidate("strait-medal", 0.49)
    row = tuple(position(1, p, 2, *both, status="ambiguous") for p in (1, 2))
    report = report_on(
        row,
        outcome="unconfirmed",
        proposed_order=keys("strait-medal", "harbour-star"),
        proposed_positions=("1.1", "1.2"),
    )
    assert _told(as_it_should_be(report)) == [
        ("1.1", "strait-medal", "1.1", False),
        ("1.2", "harbour-star", "1.2", False),
    ]


def test_two_ribbons_of_one_award_are_matched_one_to_one():
    """A ribbon worn twice is two ribbons."""
    row = tuple(position(1, p, 3, candidate(id)) for p, id in enumerate(("jubilee", "jubilee", "heron"), 1))
    report = report_on(row, outcome="out-of-order", proposed_order=keys("heron", "jubilee", "jubilee"))
    assert [s.was for s in as_it_should_be(report)[0]] == ["1.3", "1.1", "1.2"]


def test_without_a_proposal_the_bar_stays_as_read(doubtful):
    """Nothing proposed, nothing moved."""
    rows = as_it_should_be(replace(doubtful, proposed_order=(), proposed_positions=()))
    assert all(s.was == s.number and not s.moved for row in rows for s in row)


def test_a_missing_ribbon_lengthens_the_last_row(in_order):
    """What the work order has and the photo lacks still gets a place."""
    longer = replace(in_order, proposed_order=(*in_order.proposed_order, "tarn/ice-medal"))
    rows = as_it_should_be(longer)
    assert [len(row) for row in rows] == [2, 5] and rows[1][4].was == ""


def test_a_work_order_is_laid_out_as_ordered(verified, ordered_rows):
    """Each ordered place knows where its ribbon stands on the finished bar."""
    rows = as_ordered(verified, ordered_rows)
    assert _told(rows)[4:] == [("2.3", "jubilee", "2.4", True), ("2.4", "long-service", "2.3", True)]
    missing = as_ordered(verified, (*ordered_rows[:1], (*ordered_rows[1], "tarn/ice-medal")))
    assert (missing[1][4].award, missing[1][4].was, missing[1][4].moved) == ("tarn/ice-medal", "", False)


def test_the_pattern_seen_is_the_pattern_drawn(in_order, specification):
    """Where an award had several ribbons, the drawing shows the one that was read."""
    from tests.report.conftest import ribbon

    star = specification.awards["tarn/harbour-star"]
    second = ribbon(("gold", 1), id="second")
    awards = specification.awards | {star.key: replace(star, ribbons=(*star.ribbons, second))}
    place = in_order.bars[0].rows[1][0]
    place = replace(place, candidates=(candidate("harbour-star", ribbon="second"),))
    row = (place, *in_order.bars[0].rows[1][1:])
    report = replace(in_order, bars=(replace(in_order.bars[0], rows=(in_order.bars[0].rows[0], row)),))
    assert slot_ribbon(as_it_should_be(report)[1][0], replace(specification, awards=awards)) == second
