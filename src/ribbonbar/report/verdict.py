"""What the report's findings come to: the headline, the reasons in one sentence, what to do, a word beside a ribbon."""

from collections.abc import Iterable
from dataclasses import dataclass

from ribbonbar.findings import Finding
from ribbonbar.report.layout import Slot, positions
from ribbonbar.report.model import Position, Report
from ribbonbar.report.text import listed
from ribbonbar.report.words import name
from ribbonbar.spec.model import Specification

OUTCOMES = {
    "in-order": "In order",
    "out-of-order": "Out of order",
    "unconfirmed": "Not confirmed",
    "no-bar": "No ribbon bar found",
}
WRONG, DOUBTFUL = "!", "?"
"""The signs beside a ribbon, so that nothing is said by colour alone."""


@dataclass(frozen=True)
class _Words:
    """How a kind of finding is spoken of: beside the ribbon, and in the summary for one and for several ribbons."""

    remark: str
    one: str
    many: str
    count_findings: bool = False
    """True where two or more ribbons make one case."""


_KINDS = {
    "out-of-place": _Words("wrong place", "1 ribbon is in the wrong place", "{} ribbons are in the wrong place"),
    "reversed": _Words("back to front", "1 ribbon is mounted back to front", "{} ribbons are mounted back to front"),
    "duplicate": _Words("worn twice", "1 ribbon is worn twice", "{} ribbons are worn twice", True),
    "not-together": _Words(
        "not worn with another one here",
        "2 ribbons are not worn together",
        "several ribbons are not worn together",
        True,
    ),
    "needs": _Words(
        "needs another beside it", "1 ribbon needs another beside it", "{} ribbons need others beside them"
    ),
    "missing": _Words("may be a missing one", "1 ribbon is missing", "{} ribbons are missing", True),
    "extra": _Words("not ordered", "1 ribbon is not on the work order", "{} ribbons are not on the work order"),
    "swapped": _Words("swapped", "2 ribbons are swapped", "{} pairs of ribbons are swapped", True),
    "emblem": _Words("emblem differs", "1 ribbon's emblem differs", "the emblems of {} ribbons differ"),
    "row-layout": _Words("", "the rows are laid out otherwise", "the rows are laid out otherwise"),
    "mirrored-photo": _Words("", "the photo looks mirrored", "the photo looks mirrored"),
    "upside-down": _Words("", "the photo looks upside down", "the photo looks upside down"),
    "unidentified": _Words("", "1 ribbon is not recognised", "{} ribbons are not recognised"),
    "ambiguous": _Words("", "1 ribbon is not certain", "{} ribbons are not certain"),
    "dates-needed": _Words(
        "a date is needed",
        "a date is needed to settle the sequence",
        "{} dates are needed to settle the sequence",
        True,
    ),
    "too-small": _Words("small on the photo", "", ""),
    "record": _Words("differs from the record", "the record differs", "the record differs"),
    "order-of-wear": _Words("", "the order of wear leaves something open", "the order of wear leaves something open"),
    "one-assignment": _Words("", "", ""),
    "photo": _Words("", "the photo cannot be used", "the photo cannot be used"),
}
_OPEN = ("ambiguous", "unidentified", "dates-needed", "too-small", "order-of-wear", "one-assignment")
_ACCUSING = ("out-of-place", "duplicate", "not-together", "needs", "missing", "extra", "swapped")


@dataclass(frozen=True)
class Group:
    """Findings that ask the same of the reader."""

    title: str
    findings: tuple[Finding, ...]


def groups(report: Report) -> tuple[Group, ...]:
    """The findings by what they ask: to do (a ribbon back to front is to be turned), not settled, noted."""
    to_do, not_settled, noted = [], [], []
    for finding in report.findings:
        if finding.severity == "error" or finding.kind in ("reversed", "photo"):
            to_do.append(finding)
        elif finding.severity == "warning" or finding.kind in _OPEN:
            not_settled.append(finding)
        else:
            noted.append(finding)
    if report.outcome == "no-bar" and not to_do:
        to_do.append(_TAKE_AGAIN)
    titled = (("What to do", to_do), ("What is not settled", not_settled), ("Also noted", noted))
    return tuple(Group(title, tuple(findings)) for title, findings in titled if findings)


_TAKE_AGAIN = Finding(
    "photo",
    (),
    "note",
    "Take the picture again: closer, from the front, in even light, with the whole bar in it.",
    "Or say where the bar is: the pixels of its four corners, clockwise from top left, given with --corners.",
)


def title(report: Report) -> str:
    """The outcome in a word or two."""
    if report.work_order and report.outcome in ("in-order", "out-of-order"):
        return "As ordered" if report.outcome == "in-order" else "Not as ordered"
    return OUTCOMES[report.outcome]


def summary(report: Report) -> str:
    """The outcome's reasons in one sentence: ``1 ribbon is in the wrong place.``"""
    if report.outcome == "no-bar":
        return "No bar in this picture could be read."
    if report.outcome == "out-of-order":
        wrong = [f for f in report.findings if f.severity == "error" or f.kind == "reversed"]
        return _sentence(_tally(report, wrong) or ["the bar breaks the published order"])
    others = [f for f in report.findings if f.severity == "warning" or f.kind in _OPEN]
    if report.outcome == "in-order":
        count = len(positions(report))
        them = "the ribbon is" if count == 1 else "both ribbons are" if count == 2 else f"all {count} ribbons are"
        stands = "it stands" if count == 1 else "they stand"
        rest = "as the work order says" if report.work_order else "in the published sequence"
        aside = _tally(report, [f for f in others if f.kind not in _ACCUSING])
        return _sentence([f"{them} recognised, and {stands} {rest}" + (f"; {listed(aside)}" if aside else "")])
    sure = _tally(report, [f for f in others if f.kind == "reversed"])
    rest = _tally(report, [f for f in others if f.kind in _OPEN] or [f for f in others if f.kind != "reversed"])
    wrong = f"; {listed(sure)}" if sure else ""
    return f"No ribbon is proved to be in the wrong place, but {listed(rest) or 'not everything is settled'}{wrong}."


def _tally(report: Report, findings: Iterable[Finding]) -> list[str]:
    """Each kind of finding once, with the number of ribbons it is about."""
    by_kind: dict[str, list[Finding]] = {}
    for finding in findings:
        by_kind.setdefault(finding.kind, []).append(finding)
    said = []
    for kind, found in by_kind.items():
        words = _KINDS[kind]
        number = len(found if words.count_findings else {p for f in found for p in f.positions} or found)
        if kind == "out-of-place":
            number = len({p for f in found for p in f.positions} & set(report.to_move)) or number
        said.append(words.one if number == 1 else words.many.format(number))
    return list(dict.fromkeys(filter(None, said)))


def _sentence(parts: list[str]) -> str:
    text = listed(parts)
    return text[:1].upper() + text[1:] + "."


def message(finding: Finding) -> str:
    """The finding's message, with its positions before it where it does not name them itself."""
    few = len(finding.positions) <= 4 and finding.positions
    if few and not any(number in finding.message for number in finding.positions):
        return f"{listed(list(finding.positions))}: {finding.message}"
    return finding.message


def reason(finding: Finding) -> str:
    """The finding's reason as a sentence of its own; empty where there is none."""
    because = finding.because.strip()
    if not because:
        return ""
    return because if because.endswith((".", "!", "?")) else f"{because[:1].upper()}{because[1:]}."


def at(report: Report, number: str) -> tuple[Finding, ...]:
    """The findings about one position, worst first."""
    about = [f for f in report.findings if number in f.positions]
    return tuple(sorted(about, key=lambda f: ("error", "warning", "note").index(f.severity)))


def remark(finding: Finding) -> str:
    """The finding in a word or two, to stand beside a ribbon; ``perhaps`` where it is not certain; often empty."""
    words = _KINDS[finding.kind].remark
    return f"perhaps: {words}" if words and finding.kind in _ACCUSING and finding.severity != "error" else words


def remarks(report: Report, position: Position) -> list[str]:
    """What is to be said beside a ribbon, each once, the certain before the possible."""
    said: dict[str, str] = {}
    for finding in at(report, position.position):
        said.setdefault(finding.kind, remark(finding))
    return [words for words in said.values() if words]


def sign(report: Report, position: Position) -> str:
    """``!`` where something is surely wrong with the ribbon, ``?`` where there is doubt, else empty."""
    found = at(report, position.position)
    if any(f.severity == "error" or f.kind == "reversed" for f in found):
        return WRONG
    doubt = position.status != "identified" or any(f.kind in _ACCUSING and f.severity == "warning" for f in found)
    return DOUBTFUL if doubt else ""


def surely_moves(report: Report, number: str) -> bool:
    """True where an error says that the ribbon at this position belongs elsewhere."""
    return any(f.severity == "error" and f.kind in ("out-of-place", "swapped") for f in at(report, number))


def slot_sign(slot: Slot, report: Report) -> str:
    """The sign beside a drawn ribbon: ``!`` where it comes from elsewhere or is not there, ``?`` where in doubt."""
    if not slot.was or (slot.moved and surely_moves(report, slot.was)):
        return WRONG
    there = next((p for p in positions(report) if p.position == slot.was), None)
    return DOUBTFUL if slot.moved or there is None or there.status != "identified" else ""


def slot_notes(slot: Slot, report: Report, specification: Specification) -> list[str]:
    """What is to be said under a drawn ribbon: where it comes from, how to turn it, what else it may be."""
    there = next((p for p in positions(report) if p.position == slot.was), None)
    if there is None:
        return ["not on the bar"]
    notes = []
    if slot.moved:
        notes.append(f"{'' if surely_moves(report, slot.was) else 'perhaps '}moved from {slot.was}")
    if any(f.kind == "reversed" for f in at(report, slot.was)):
        notes.append("turned the right way round")
    if there.status == "ambiguous":
        others = list(dict.fromkeys(name(c.award, specification) for c in there.candidates if c.award != slot.award))
        more = [*others[:2], f"{len(others) - 2} more"] if len(others) > 3 else others
        notes += [f"or {listed(more, 'or')}"] if more else []
    return notes


def drawing_title(report: Report) -> str:
    """The heading over the drawn bar."""
    if not report.proposed_order:
        return "As read"
    if report.outcome == "out-of-order" and report.to_move:
        return "As it should be"
    certain = all(position.status == "identified" for position in positions(report))
    return "As the order of wear has it" + ("" if certain else ", so far as it can be read")
