"""The words that every face of the report uses."""

from dataclasses import replace
from datetime import date

import pytest

from ribbonbar.report import words
from ribbonbar.spec.model import Interval, Source
from tests.report.conftest import candidate, position


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (1.0, "sure, 99 %"),
        (0.9999, "sure, 99 %"),
        (0.979, "fairly sure, 97 %"),
        (0.8, "likely, 80 %"),
        (0.4, "doubtful, 40 %"),
    ],
)
def test_how_sure_is_never_rounded_up_to_certainty(probability, said):
    """A photograph is never a hundred per cent."""
    assert words.how_sure(position(1, 1, 1, candidate("heron", probability))) == said


def test_what_was_settled_by_hand_says_so():
    """Nobody takes an answer given by hand for something that was seen."""
    assert words.how_sure(position(1, 1, 1, candidate("heron", 1.0), given_by_hand=True)) == "given by hand"


def test_several_names_are_joined_by_or(specification):
    """Look-alikes are listed; a long list is shortened."""
    alike = [candidate(id, 0.2) for id in ("harbour-star", "strait-medal", "jubilee", "heron")]
    assert (
        words.names(position(1, 1, 1, *alike[:2], status="ambiguous"), specification) == "Harbour Star or Strait Medal"
    )
    assert (
        words.names(position(1, 1, 1, *alike, status="ambiguous"), specification)
        == "Harbour Star, Strait Medal or 2 more"
    )
    assert words.names(position(1, 1, 1, status="unidentified"), specification) == "not recognised"


def test_days_are_written_out():
    """No reader mistakes the month for the day."""
    assert words.days(Interval(date(1951, 3, 1), date(1954, 10, 31))) == "1 March 1951 to 31 October 1954"
    assert words.days(Interval(date(1951, 3, 1))) == "since 1 March 1951"
    assert words.days(Interval(None, date(1951, 3, 1))) == "until 1 March 1951"
    assert words.days(Interval()) == ""


def test_a_source_is_linked_only_to_the_web(specification):
    """A specification file cannot put a script behind a link."""
    assert words.source("tarn/warrant", specification) == (
        "Royal warrant of Tarn, 1972 (invented)",
        "https://example.org/w",
    )
    assert words.source("Royal warrant of Tarn, 1972 (invented)", specification)[1] == "https://example.org/w"
    assert words.source("made up", specification) == ("made up", "")
    for url in ("javascript:alert(1)", "file:///etc/passwd", "data:text/html,x", "//host/x", " https://x"):
        bad = replace(specification, sources={"tarn/warrant": Source("tarn/warrant", "t", url)})
        assert words.source("tarn/warrant", bad) == ("t", "")


def test_a_ribbon_with_one_likely_name_is_called_by_it(specification):
    """Not certain, but nothing else comes near: a remote name is left to the notes."""
    unsure = position(1, 1, 1, candidate("heron", 0.86), candidate("strait", 0.05), status="ambiguous")
    assert words.names(unsure, specification) == words.names(position(1, 1, 1, candidate("heron", 0.86)), specification)
    assert words.how_sure(unsure) == "likely, 86 %"
    near = position(1, 1, 1, candidate("heron", 0.7), candidate("strait", 0.2), status="ambiguous")
    assert " or " in words.names(near, specification)
    assert words.how_sure(near) == "cannot be told apart here"
