"""The words that every face of the report uses. They speak of ribbons, never of the wearer."""

from datetime import date

from ribbonbar.report.layout import positions
from ribbonbar.report.model import Position, Report
from ribbonbar.report.text import counted, listed
from ribbonbar.spec.model import Interval, Specification

NOT_RECOGNISED = "not recognised"
_REMOTE = 0.15  # against the likeliest, below which an award is named in the notes only
_SURE, _FAIRLY_SURE, _LIKELY = 0.98, 0.9, 0.7  # calibrated probabilities, so "fairly sure" is right nine times in ten


def name(key: str, specification: Specification) -> str:
    """An award's published name, or its key where the specification does not have it."""
    award = specification.awards.get(key)
    return award.name if award else key or NOT_RECOGNISED


def names(position: Position, specification: Specification) -> str:
    """What a position holds, in words: one name, or the names that cannot be told apart."""
    if position.status == "unidentified" or not position.candidates:
        return NOT_RECOGNISED
    each = list(dict.fromkeys(name(award, specification) for award in _plausible(position)))
    return listed(each if len(each) <= 3 else [*each[:2], f"{len(each) - 2} more"], "or")


def _plausible(position: Position) -> tuple[str, ...]:
    """The awards worth naming in a line: the likeliest, and where it is ambiguous those not much less likely."""
    best = position.candidates[0]
    if position.status != "ambiguous":
        return (best.award,)
    return tuple(dict.fromkeys(c.award for c in position.candidates if c.probability >= _REMOTE * best.probability))


def how_sure(position: Position) -> str:
    """How sure the reading is, in words; percentages are never rounded up to certainty."""
    if position.given_by_hand:
        return "given by hand"
    if position.status == "unidentified" or not position.candidates:
        return ""
    if len(_plausible(position)) > 1:
        return "cannot be told apart here"
    probability = position.candidates[0].probability
    word = next((w for least, w in _WORDS if probability >= least), "doubtful")
    return f"{word}, {percent(probability)}"


_WORDS = ((_SURE, "sure"), (_FAIRLY_SURE, "fairly sure"), (_LIKELY, "likely"))


def percent(probability: float) -> str:
    """``97 %``, rounded down, at most 99."""
    return f"{min(int(100 * probability + 1e-6), 99)} %"


def day(value: date) -> str:
    """``1 March 1951``."""
    return f"{value.day} {_MONTHS[value.month - 1]} {value.year}"


_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def days(interval: Interval) -> str:
    """``1 March 1951 to 31 October 1954``; empty where nothing is known."""
    if interval.start and interval.end:
        return f"{day(interval.start)} to {day(interval.end)}"
    if interval.start:
        return f"since {day(interval.start)}"
    return f"until {day(interval.end)}" if interval.end else ""


def source(text: str, specification: Specification) -> tuple[str, str]:
    """(title, web address) of a source given by its key or its title; of any other text, itself and no address."""
    by_title = (known for known in specification.sources.values() if known.title == text)
    known = specification.sources.get(text) or next(by_title, None)
    if known is None:
        return text, ""
    return known.title, known.url if known.url.startswith(("https://", "http://")) else ""


def order_title(report: Report, specification: Specification) -> str:
    """The title of the order of wear that the bar was held against."""
    order = specification.orders.get(report.order_of_wear)
    return order.title if order else report.order_of_wear


def ribbons_in_words(report: Report) -> str:
    """``6 ribbons in 2 rows``."""
    rows = sum(len(bar.rows) for bar in report.bars)
    count = len(positions(report))
    return counted(count, "ribbon") + (f" in {rows} rows" if rows > 1 else "")
