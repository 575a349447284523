"""The words that every face of the report uses. They speak of ribbons, never of the wearer."""

from collections import Counter
from datetime import date

from ribbonbar.findings import Finding
from ribbonbar.report.layout import Slot, positions
from ribbonbar.report.model import Position, Report
from ribbonbar.report.text import counted, listed
from ribbonbar.spec.model import Interval, Specification

OUTCOMES = {
    "in-order": "In order",
    "out-of-order": "Out of order",
    "unconfirmed": "Not confirmed",
    "no-bar": "No ribbon bar found",
}
NOT_RECOGNISED = "not recognised"
_SURE, _FAIRLY_SURE, _LIKELY = 0.98, 0.9, 0.7  # calibrated probabilities, so "fairly sure" is right nine times in ten

REMARKS = {
    "out-of-place": "wrong place",
    "reversed": "back to front",
    "duplicate": "worn twice",
    "not-together": "not worn with another one here",
    "needs": "needs another ribbon beside it",
    "dates-needed": "a date is needed",
    "extra": "not in the work order",
    "missing": "another ribbon is missing here",
    "swapped": "places changed",
    "emblem": "emblem",
    "row-layout": "row",
    "too-small": "too small on the photo",
    "record": "not in the record",
    "order-of-wear": "not in this order of wear",
    "one-assignment": "named by the order, not by sight",
}
"""A finding in a word or two, beside the ribbon it is about."""

_COUNTED = {  # what a summary says of so many findings or ribbons: for one, for several
    "out-of-place": ("1 ribbon is in the wrong place", "{} ribbons are in the wrong place"),
    "reversed": ("1 ribbon is mounted back to front", "{} ribbons are mounted back to front"),
    "duplicate": ("a ribbon is worn twice", "{} ribbons are worn more than once"),
    "not-together": ("2 ribbons are not worn together", "several ribbons are not worn together"),
    "needs": ("1 ribbon needs another beside it", "{} ribbons need another beside them"),
    "missing": ("1 ribbon is missing", "{} ribbons are missing"),
    "extra": ("1 ribbon too many", "{} ribbons too many"),
    "swapped": ("2 ribbons have changed places", "several ribbons have changed places"),
    "emblem": ("1 emblem is wrong", "{} emblems are wrong"),
    "row-layout": ("the rows are laid out differently", "the rows are laid out differently"),
    "mirrored-photo": ("the photo is mirrored", "the photo is mirrored"),
    "upside-down": ("the bar is upside down", "the bar is upside down"),
    "unidentified": ("1 ribbon is not recognised", "{} ribbons are not recognised"),
    "ambiguous": ("1 ribbon could be one of several", "{} ribbons could each be one of several"),
    "dates-needed": ("a date would settle the sequence", "{} dates would settle the sequence"),
    "too-small": ("1 ribbon is too small to read", "{} ribbons are too small to read"),
    "record": ("1 ribbon is not in the record", "{} ribbons are not in the record"),
    "order-of-wear": ("the order of wear is not certain", "the order of wear is not certain"),
}
_ONE_A_FINDING = {"not-together", "swapped", "duplicate", "dates-needed", "missing", "needs"}


def title(report: Report) -> str:
    """The outcome in a word or two."""
    if report.outcome == "out-of-order" and report.work_order:
        return "Not as ordered"
    if report.outcome == "in-order" and report.work_order:
        return "As ordered"
    return OUTCOMES[report.outcome]


def summary(report: Report) -> str:
    """The outcome's reasons in one sentence: ``1 ribbon is in the wrong place.``"""
    count = len(positions(report))
    if report.outcome == "no-bar":
        return next((f.message for f in report.findings if f.kind == "photo"), "No bar in this picture can be read.")
    if report.outcome == "in-order":
        them = "The ribbon is" if count == 1 else "Both ribbons are" if count == 2 else f"All {count} ribbons are"
        stands = "it stands" if count == 1 else "they stand"
        rest = "as the work order says" if report.work_order else "in the published sequence"
        return f"{them} recognised, and {stands} {rest}."
    if report.outcome == "out-of-order":
        return _sentence(_tally(report, "error")) or "The bar breaks the published order."
    return f"Nothing is proved wrong, but {listed(_tally(report, 'warning')) or 'not everything could be settled'}."


def name(key: str, specification: Specification) -> str:
    """An award's published name, or its key where the specification does not have it."""
    award = specification.awards.get(key)
    return award.name if award else key or NOT_RECOGNISED


def names(position: Position, specification: Specification) -> str:
    """What a position holds, in words: one name, or the names that cannot be told apart."""
    if position.status == "unidentified" or not position.candidates:
        return NOT_RECOGNISED
    shown = position.candidates if position.status == "ambiguous" else position.candidates[:1]
    each = list(dict.fromkeys(name(c.award, specification) for c in shown))
    return listed(each if len(each) <= 3 else [*each[:2], f"{len(each) - 2} more"], "or")


def how_sure(position: Position) -> str:
    """How sure the reading is, in words; percentages are never rounded up to certainty."""
    if position.given_by_hand:
        return "given by hand"
    if position.status == "unidentified" or not position.candidates:
        return ""
    probability = position.candidates[0].probability
    if position.status == "ambiguous":
        return "cannot be told apart here"
    word = next((w for least, w in _WORDS if probability >= least), "doubtful")
    return f"{word}, {percent(probability)}"


_WORDS = ((_SURE, "sure"), (_FAIRLY_SURE, "fairly sure"), (_LIKELY, "likely"))


def percent(probability: float) -> str:
    """``97 %``, rounded down, at most 99."""
    return f"{min(int(100 * probability + 1e-6), 99)} %"


def findings_at(report: Report, number: str) -> tuple[Finding, ...]:
    """The findings about one position, worst first."""
    about = [f for f in report.findings if number in f.positions]
    return tuple(sorted(about, key=lambda f: ("error", "warning", "note").index(f.severity)))


def remarks(report: Report, position: Position) -> list[str]:
    """What is to be said beside a ribbon in a word or two each; what its name says already is left out."""
    kinds = dict.fromkeys(f.kind for f in findings_at(report, position.position))
    return [REMARKS[kind] for kind in kinds if kind in REMARKS]


def is_wrong(report: Report, position: Position) -> bool:
    """True where an error finding is about this position."""
    return any(f.severity == "error" for f in findings_at(report, position.position))


def drawing_title(report: Report) -> str:
    """The heading over the drawn bar."""
    if report.outcome == "out-of-order":
        return "As ordered" if report.work_order else "As it should be"
    rest = "" if report.outcome == "in-order" else ", so far as it can be read"
    return f"As the {'work order' if report.work_order else 'order of wear'} has it{rest}"


def slot_notes(slot: Slot, report: Report, specification: Specification) -> list[str]:
    """What is to be said under a drawn ribbon: where it comes from, how to turn it, what else it may be."""
    there = next((p for p in positions(report) if p.position == slot.was), None)
    if there is None:
        return ["not on the bar"]
    notes = [f"moved from {slot.was}"] if slot.moved else []
    if any(f.kind == "reversed" for f in findings_at(report, slot.was)):
        notes.append("turned the right way round")
    if there.status == "ambiguous":
        others = dict.fromkeys(name(c.award, specification) for c in there.candidates if c.award != slot.award)
        notes += [f"or {listed(list(others)[:2], 'or')}"] if others else []
    return notes


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
    """(title, web address) of a source given by its key; of any other text, the text itself and no address."""
    known = specification.sources.get(text)
    if known is None:
        return text, ""
    return known.title, known.url if known.url.startswith(("https://", "http://")) else ""


def order_title(report: Report, specification: Specification) -> str:
    """The title of the order of wear that the bar was held against."""
    order = specification.orders.get(report.order_of_wear)
    return order.title if order else report.order_of_wear


def _tally(report: Report, severity: str) -> list[str]:
    count: Counter[str] = Counter()
    ribbons: dict[str, set[str]] = {}
    for finding in report.findings:
        if finding.severity == severity:
            count[finding.kind] += 1
            ribbons.setdefault(finding.kind, set()).update(finding.positions)
    if severity == "error" and report.to_move and "out-of-place" in count:
        ribbons["out-of-place"] = set(report.to_move)
    said = []
    for kind, findings in count.items():
        number = findings if kind in _ONE_A_FINDING else len(ribbons[kind]) or findings
        one, many = _COUNTED.get(kind, ("something is to be looked at", "several things are to be looked at"))
        said.append(one if number == 1 else many.format(number))
    return list(dict.fromkeys(said))


def _sentence(parts: list[str]) -> str:
    text = listed(parts)
    return text[:1].upper() + text[1:] + "." if text else ""


def ribbons_in_words(report: Report) -> str:
    """``6 ribbons in 2 rows``."""
    rows = sum(len(bar.rows) for bar in report.bars)
    count = len(positions(report))
    return counted(count, "ribbon") + (f" in {rows} rows" if rows > 1 else "")
