"""What the HTML pages show, made ready: words and pictures in place, so that the templates hold no logic."""

import io
from dataclasses import dataclass, replace
from itertools import count

from PIL import Image

from ribbonbar.findings import Finding
from ribbonbar.report import verdict, words
from ribbonbar.report.crop import Crop, data_uri, jpeg
from ribbonbar.report.describe import differences, in_words
from ribbonbar.report.drawings import Label, Numbered, cut_out, lettering, ribbon_uri, seen_uri
from ribbonbar.report.layout import Slot, Slots, pattern, positions
from ribbonbar.report.model import Bar, Candidate, Position, Report
from ribbonbar.report.text import listed
from ribbonbar.spec.model import Award, Ribbon, Specification

_DOUBTFUL = 0.9  # an identified ribbon below this shows what else it may be
_CERTAINTY = {
    "stated": "",
    "derived": "worked out from the source",
    "memory": "from memory, not from a source",
}


@dataclass(frozen=True)
class Outcome:
    kind: str
    title: str
    summary: str
    photo: str
    about: str


@dataclass(frozen=True)
class Outline:
    """A ribbon's outline in thousandths of the picture, ready for SVG."""

    points: str
    kind: str


@dataclass(frozen=True)
class PhotoView:
    picture: Numbered
    outlines: tuple[Outline, ...]


@dataclass(frozen=True)
class FindingView:
    number: int
    message: str
    because: str
    source: str
    url: str
    remark: str
    positions: tuple[str, ...]


@dataclass(frozen=True)
class FindingGroup:
    title: str
    findings: tuple[FindingView, ...]


@dataclass(frozen=True)
class SlotView:
    label: Label
    name: str
    notes: tuple[str, ...]
    moved: bool


@dataclass(frozen=True)
class Strip:
    """One of the pictures of a ribbon that stand under each other."""

    what: str
    uri: str
    alt: str
    thin: bool = False


@dataclass(frozen=True)
class Fact:
    what: str
    text: str
    url: str = ""


@dataclass(frozen=True)
class Other:
    """Another award that a ribbon may be, and where to look."""

    name: str
    percent: str
    told: str
    uri: str
    alt: str


@dataclass(frozen=True)
class RibbonView:
    label: Label
    name: str
    sure: str
    remarks: tuple[FindingView, ...]
    strips: tuple[Strip, ...]
    facts: tuple[Fact, ...]
    others_title: str
    others: tuple[Other, ...]


def outcome(report: Report, specification: Specification) -> Outcome:
    about = [report.photo.name]
    if report.work_order:
        about.append(f"work order {report.work_order}")
    if report.bars:
        about.append(words.ribbons_in_words(report))
    if title := words.order_title(report, specification):
        about.append(f"held against: {title}")
    return Outcome(report.outcome, verdict.title(report), verdict.summary(report), report.photo.name, " · ".join(about))


def photographed(report: Report, bar: Bar, crop: Crop, specification: Specification) -> PhotoView:
    """The crop with numbered outlines; its alternative text reads the bar out."""
    places = [position for row in bar.rows for position in row]
    outlines, labels = [], []
    for place in sorted(places, key=lambda p: bool(verdict.sign(report, p))):  # those that matter lie on top
        corners = crop.outline(place.corners)
        points = " ".join(f"{1000 * x:.1f},{1000 * y:.1f}" for x, y in corners)
        x, y = sum(c[0] for c in corners) / 4, (corners[2][1] + corners[3][1]) / 2
        label = Label(place.position, 100 * x, 100 * y, verdict.sign(report, place))
        outlines.append(Outline(points, label.kind))
        labels.append(label)
    told = "; ".join(_read_out(report, place, specification) for place in places)
    width, height = crop.image.size
    alt = f"Photograph of the bar, {words.ribbons_in_words(report)}: {told}."
    widest = max((len(row) for row in bar.rows), default=1)
    size = lettering(widest, len(bar.rows), width, height)
    return PhotoView(Numbered(data_uri(jpeg(crop.image)), alt, width, height, tuple(labels), size), tuple(outlines))


def _read_out(report: Report, place: Position, specification: Specification) -> str:
    return ", ".join([f"{place.position} {words.names(place, specification)}", *verdict.remarks(report, place)])


def finding_groups(report: Report, specification: Specification) -> tuple[FindingGroup, ...]:
    """The findings by what they ask of the reader, numbered through."""
    number = count(1)
    return tuple(
        FindingGroup(group.title, tuple(_finding(f, next(number), specification) for f in group.findings))
        for group in verdict.groups(report)
    )


def _finding(finding: Finding, number: int, specification: Specification) -> FindingView:
    source, url = words.source(finding.source, specification)
    remark = verdict.remark(finding)
    return FindingView(
        number, verdict.message(finding), verdict.reason(finding), source, url, remark, finding.positions
    )


def slot_views(rows: Slots, report: Report, specification: Specification) -> tuple[SlotView, ...]:
    return tuple(
        SlotView(
            Label(slot.number, sign=verdict.slot_sign(slot, report)),
            words.name(slot.award, specification),
            tuple(verdict.slot_notes(slot, report, specification)),
            slot.moved,
        )
        for row in rows
        for slot in row
    )


def drawing_alt(title: str, rows: Slots, report: Report, specification: Specification) -> str:
    """The drawn bar read out, row by row."""
    told = []
    for number, row in enumerate(rows, 1):
        each = [" ".join([words.name(s.award, specification), *_in_brackets(s, report, specification)]) for s in row]
        told.append(f"row {number}: {', '.join(each)}")
    return f"Drawing. {title}. {'; '.join(told)}."


def _in_brackets(slot, report: Report, specification: Specification) -> list[str]:
    notes = verdict.slot_notes(slot, report, specification)
    return [f"({', '.join(notes)})"] if notes else []


def ribbon_views(
    report: Report, crops: tuple[Crop | None, ...], specification: Specification, groups: tuple[FindingGroup, ...]
) -> tuple[RibbonView, ...]:
    """One view for each position, in reading order."""
    crop_of = {id(p): crop for bar, crop in zip(report.bars, crops, strict=True) for row in bar.rows for p in row}
    findings = [finding for group in groups for finding in group.findings]
    return tuple(
        _ribbon(report, position, crop_of[id(position)], specification, findings) for position in positions(report)
    )


def _ribbon(
    report: Report,
    position: Position,
    crop: Crop | None,
    specification: Specification,
    findings: list[FindingView],
) -> RibbonView:
    best = position.candidates[0] if position.candidates else None
    award = specification.awards.get(best.award) if best else None
    known = pattern(award, best.ribbon) if best else None
    named = position.status != "unidentified"
    strips = []
    if crop and (uri := cut_out(crop, position)):
        strips.append(Strip("on the photo", uri, f"Photograph of ribbon {position.position}"))
    if position.seen:
        strips.append(Strip("colours as read", seen_uri(position.seen), "Its colours as read, left to right", True))
    if known and position.status == "identified":
        turned = ", mounted back to front" if best.reversed else ""
        described = in_words(known, best.reversed)
        alt = f"Published pattern of the {award.name}{turned}: {described}"
        strips.append(Strip(f"as published{turned and ', turned'}", ribbon_uri(known, best.reversed), alt))
    others = _others(position, specification) if best else ()
    return RibbonView(
        Label(position.position, sign=verdict.sign(report, position)),
        words.names(position, specification),
        words.how_sure(position),
        tuple(f for f in findings if position.position in f.positions and f.remark),
        tuple(strips),
        tuple(_facts(report, position, award, known, specification)) if named else (),
        "Nearest in the specification, none of them fitting" if not named else "What it may be",
        others,
    )


def _others(position: Position, specification: Specification) -> tuple[Other, ...]:
    """The awards a doubtful ribbon may be, each with what tells it from the most probable one."""
    best, *rest = position.candidates
    if position.status == "identified" and (best.probability >= _DOUBTFUL or position.given_by_hand):
        return ()
    if position.status == "identified" and not rest:
        return ()
    first = pattern(specification.awards.get(best.award), best.ribbon)
    shown = []
    for candidate in position.candidates[:4]:
        ribbon = pattern(specification.awards.get(candidate.award), candidate.ribbon)
        against = rest[0] if candidate is best and rest else best
        other = pattern(specification.awards.get(against.award), against.ribbon) if candidate is best else first
        shown.append(
            Other(
                words.name(candidate.award, specification),
                words.percent(candidate.probability),
                _told(candidate, ribbon, against, other),
                ribbon_uri(ribbon, candidate.reversed) if ribbon else "",
                f"Published pattern: {in_words(ribbon, candidate.reversed)}" if ribbon else "",
            )
        )
    return tuple(shown)


def _told(candidate: Candidate, ribbon: Ribbon | None, against: Candidate, other: Ribbon | None) -> str:
    """Where to look to tell a candidate from another one."""
    if ribbon is None:
        return "Its pattern is not in the specification."
    if other is None or candidate is against:
        return f"Looks like: {in_words(ribbon, candidate.reversed)}."
    told = differences(ribbon, other, candidate.reversed, against.reversed)
    return f"Look for: {told[0]}." if told else "The same ribbon; only the papers can tell."


def _facts(
    report: Report, position: Position, award: Award | None, ribbon: Ribbon | None, specification: Specification
) -> list[Fact]:
    """What the award is; for look-alikes, of the most probable one only where that is all there is to say."""
    if award is None or position.status == "ambiguous":
        return []
    facts = [Fact("pattern", in_words(ribbon) + _certainty(ribbon.certainty))] if ribbon else []
    order = specification.orders.get(report.order_of_wear)
    group = next((g.title for g in order.groups if award.key in g.awards), "") if order else ""
    facts += [Fact("what it is", text) for text in [". ".join(filter(None, [group, award.note]))] if text]
    earned = words.days(award.earned)
    source, url = words.source(award.earned_source, specification)
    facts.append(
        Fact(
            "earned",
            f"{earned}{_certainty(award.earned_certainty)}{f'; {source}' if source else ''}"
            if earned
            else "qualifying dates are not in the specification",
            url if earned else "",
        )
    )
    if position.emblems:
        facts.append(Fact("seen on it", listed([emblem.kind for emblem in position.emblems])))
    if award.emblems:
        may = [
            " ".join(filter(None, [e.metal, e.kind])) + (f" ({e.meaning})" if e.meaning else "") for e in award.emblems
        ]
        facts.append(Fact("may carry", listed(may, "or")))
    if award.worn_elsewhere:
        facts.append(Fact("worn on", award.worn_elsewhere))
    if ribbon and ribbon.source:
        facts.append(Fact("source", *words.source(ribbon.source, specification)))
    return facts


def _certainty(certainty: str) -> str:
    said = _CERTAINTY.get(certainty, "")
    return f" ({said})" if said else ""


@dataclass(frozen=True)
class HandoverLine:
    """One place of the finished bar: what was ordered there, and what is there."""

    label: Label
    ordered: str
    found: str


def handover_lines(
    rows: Slots, report: Report, specification: Specification, emblems: dict[str, tuple[str, ...]]
) -> tuple[HandoverLine, ...]:
    """A line for each place ordered, then one for each ribbon that nobody ordered. ``emblems`` is by award."""
    seen = {position.position: position for position in positions(report)}
    slots = [slot for row in rows for slot in row]
    lines = []
    for slot in slots:
        carried = ", ".join(emblems.get(slot.award, ()))
        ordered = words.name(slot.award, specification) + (f" with {carried}" if carried else "")
        there = seen.get(slot.was)
        found = _found(slot, there, report) if there else "missing"
        lines.append(HandoverLine(Label(slot.number, sign=verdict.slot_sign(slot, report)), ordered, found))
        if there and verdict.sign(report, there) == verdict.WRONG:
            lines[-1] = replace(lines[-1], label=Label(slot.number, sign=verdict.WRONG))
    placed = {slot.was for slot in slots}
    for number, position in seen.items():
        if number not in placed:
            found = "; ".join([words.names(position, specification), *verdict.remarks(report, position)])
            sign = verdict.sign(report, position) or verdict.DOUBTFUL
            lines.append(HandoverLine(Label(number, sign=sign), "nothing", found))
    return tuple(lines)


def _found(slot: Slot, there: Position, report: Report) -> str:
    """What is said of the ribbon that stands for an ordered one."""
    said = [f"at {slot.was}"] if slot.moved else []
    if there.status == "unidentified":
        said.append(words.NOT_RECOGNISED)
    elif there.status == "ambiguous":
        said.append("may be it")
    elif there.given_by_hand:
        said.append("given by hand")
    said += verdict.remarks(report, there)
    carried = listed([emblem.kind for emblem in there.emblems])
    return "; ".join(said) or f"in place{f', with {carried}' if carried else ''}"


WORST_FIRST = ("unusable", "out-of-order", "no-bar", "unconfirmed", "in-order")
"""How an overview is sorted: what needs a person's hand comes first."""


@dataclass(frozen=True)
class OverviewItem:
    kind: str
    given: int
    photo: str
    title: str
    summary: str
    uri: str
    width: int
    height: int
    alt: str
    findings: tuple[str, ...]
    ribbons_title: str
    ribbons: tuple[str, ...]


def overview_item(
    given: int, report: Report, thumbnail: bytes, error: str, specification: Specification
) -> OverviewItem:
    """One photo of the overview; ``given`` is its place in the order given."""
    errors = [f.message for f in report.findings if f.severity == "error"]
    warnings = [f.message for f in report.findings if f.severity == "warning"]
    width, height = Image.open(io.BytesIO(thumbnail)).size if thumbnail else (0, 0)
    return OverviewItem(
        "unusable" if error else report.outcome,
        given,
        report.photo.name,
        "Not readable" if error else verdict.title(report),
        error or verdict.summary(report),
        data_uri(thumbnail) if thumbnail else "",
        width,
        height,
        f"The bar: {'; '.join(words.names(p, specification) for p in positions(report))}.",
        tuple([] if error else [*errors, *warnings][:6]),
        words.ribbons_in_words(report),
        tuple(_read_out(report, position, specification) for position in positions(report)),
    )
