"""A planned bar: each position with its award, pattern and emblems; what is not known is asked, never guessed."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from difflib import get_close_matches

from ribbonbar.errors import Exit, OptionError, RecordError
from ribbonbar.findings import Finding
from ribbonbar.precedence.judge import judge
from ribbonbar.precedence.layout import row_findings
from ribbonbar.precedence.model import Held, PlanSequence, Reason, Record, Rows, Slot
from ribbonbar.precedence.names import listed
from ribbonbar.precedence.sequence import plan
from ribbonbar.precedence.which_order import choose_order
from ribbonbar.spec.model import Award, Emblem, Interval, OrderOfWear, Ribbon, Specification

CAUTIONS = (
    "The record was taken as it was given: a plan proves no entitlement.",
    "The issuing authority's current order, and the wearer's own papers, decide.",
    "Colours are nominal: match the cloth, not the print.",
)
"""Shown on every face of a plan."""
MOST_IN_A_ROW = 20
MOST_EMBLEMS = 12
"""On one ribbon; more do not fit on any."""
_DEFAULT_WIDTH_MM, _DEFAULT_HEIGHT_MM = 32.0, 10.0


@dataclass(frozen=True)
class Question:
    """What the record would have to say. ``awards`` are keys: a pair whose sequence is open, or one award whose
    pattern is."""

    awards: tuple[str, ...]
    needs: str
    message: str


@dataclass(frozen=True)
class PlannedRibbon:
    """One position. ``patterns`` are the ribbons it may be: one when settled, none when no file describes it."""

    position: str
    award: Award
    patterns: tuple[Ribbon, ...]
    emblems: tuple[Emblem, ...] = ()
    because: str = ""
    """Why this pattern, where the award has had several."""

    @property
    def ribbon(self) -> Ribbon | None:
        return self.patterns[0] if len(self.patterns) == 1 else None

    @property
    def width_mm(self) -> float:
        """The ribbon's width; of several possible patterns the widest."""
        return max((ribbon.width_mm for ribbon in self.patterns), default=_DEFAULT_WIDTH_MM)


@dataclass(frozen=True)
class PlannedBar:
    """A bar to be made. ``rows``: top row first, each from the viewer's left. ``height_mm`` is that of one row."""

    reference: str
    order: OrderOfWear
    height_mm: float
    rows: tuple[tuple[PlannedRibbon, ...], ...]
    questions: tuple[Question, ...] = ()
    findings: tuple[Finding, ...] = ()
    reasons: tuple[Reason, ...] = ()
    editions: tuple[str, ...] = ()
    """The specification files used."""

    @property
    def ribbons(self) -> tuple[PlannedRibbon, ...]:
        return tuple(ribbon for row in self.rows for ribbon in row)

    @property
    def row_widths(self) -> tuple[float, ...]:
        """The length of each row's bar in mm."""
        return tuple(sum(ribbon.width_mm for ribbon in row) for row in self.rows)

    @property
    def exit_status(self) -> Exit:
        """1 when a rule is broken by what is held, 3 when something is open, else 0."""
        if any(finding.severity == "error" for finding in self.findings):
            return Exit.BROKEN
        return Exit.UNCONFIRMED if self.questions else Exit.SETTLED


def plan_bar(record: Record, specification: Specification, order: str = "", per_row: int | None = None) -> PlannedBar:
    """The bar that a record asks for, under the order of wear wanted, else the record's own, else the one that fits.

    Rows that the record lays down are used where they break nothing and ``per_row`` does not ask for others. Where
    several orders of wear fit and give different sequences, that is a question too.
    Raises OptionError for an unknown order and an impossible ``per_row``, SpecError for a faulty order.
    """
    if per_row is not None and not 1 <= per_row <= MOST_IN_A_ROW:
        raise OptionError(f"--per-row {per_row}: give 1 to {MOST_IN_A_ROW}")
    choice = choose_order(record.awards, specification, order or record.order_of_wear)
    chosen = specification.orders[choice.key]
    sequence = plan(record, specification, chosen, per_row)
    rows, findings = sequence.rows, list(choice.findings)
    if record.rows and per_row is None:
        rows, about_rows = _rows_as_given(record, sequence, specification, chosen)
        findings += about_rows
    findings += row_findings(_slots(rows), specification, chosen)
    bar = dress(replace(sequence, rows=rows), record, specification)
    others = {key: plan(record, specification, specification.orders[key], per_row).sequence for key in choice.also}
    differing = [specification.orders[key].title for key, other in others.items() if other != sequence.sequence]
    questions = bar.questions
    if differing:
        message = (
            f"{listed(differing)} would give another sequence than {chosen.title}: say which order of wear applies"
        )
        questions = (Question(sequence.sequence, "order of wear", message), *questions)
    return replace(bar, questions=questions, findings=(*bar.findings, *findings))


def _rows_as_given(
    record: Record, sequence: PlanSequence, specification: Specification, order: OrderOfWear
) -> tuple[tuple[tuple[str, ...], ...], list[Finding]]:
    given = [award for row in record.rows for award in row]
    if sorted(given) != sorted(sequence.sequence):
        message = "The rows given do not hold the same ribbons as the awards held; the plan lays out what is held."
    elif judge(_slots(record.rows), specification, order, record).violated:
        message = "The rows given are not in the order of wear; the plan shows the right sequence."
    else:
        return record.rows, []
    return sequence.rows, [Finding("row-layout", (), "warning", message, f"rows as laid down in {order.title}")]


def _slots(rows: Iterable[Iterable[str]]) -> Rows:
    return tuple(
        tuple(Slot(f"{number}.{place}", (award,)) for place, award in enumerate(row, 1))
        for number, row in enumerate(rows, 1)
    )


def dress(sequence: PlanSequence, record: Record, specification: Specification) -> PlannedBar:
    """Give every award of a planned sequence the ribbon and the emblems that the record settles."""
    order = specification.orders[sequence.order_of_wear]
    held = {award: [each for each in record.held if each.award == award] for award in record.awards}
    worn_twice = {award for award in sequence.sequence if sequence.sequence.count(award) > 1}
    rows, questions, findings = [], [Question(o.awards, o.needs, o.message) for o in sequence.open], []
    for row_number, row in enumerate(sequence.rows, 1):
        ribbons = []
        for place, key in enumerate(row, 1):
            entries = held.get(key, [])
            if key in worn_twice:
                entries, held[key] = entries[:1], entries[1:]
            ribbon, question, finding = _planned(f"{row_number}.{place}", specification.awards[key], entries)
            ribbons.append(ribbon)
            questions += [question] if question and question not in questions else []
            findings += [finding] if finding else []
        rows.append(tuple(ribbons))
    return PlannedBar(
        reference=record.reference,
        order=order,
        height_mm=_height(order, specification),
        rows=tuple(rows),
        questions=tuple(questions),
        findings=sequence.findings + tuple(findings),
        reasons=sequence.reasons,
        editions=specification.editions,
    )


def _height(order: OrderOfWear, specification: Specification) -> float:
    authority = specification.authorities.get(order.key.partition("/")[0])
    return authority.ribbon_height_mm if authority else _DEFAULT_HEIGHT_MM


def _planned(
    position: str, award: Award, entries: Sequence[Held]
) -> tuple[PlannedRibbon, Question | None, Finding | None]:
    division = next((each.division for each in entries if each.division), "")
    day = next((each.date for each in entries if each.date), None)
    patterns, because = possible_patterns(award, division, day)
    names = [name for each in entries for name in each.emblems]
    if len(names) > MOST_EMBLEMS:
        raise RecordError(f"{award.name}: {len(names)} emblems do not fit on one ribbon; give {MOST_EMBLEMS} at most")
    emblems, unknown = _emblems(award, names)
    question = pattern_question(award, patterns, division, day) if len(patterns) != 1 else None
    return (
        PlannedRibbon(position, award, patterns, emblems, because),
        question,
        _unknown_emblems(position, award, unknown),
    )


def possible_patterns(award: Award, division: str, day: date | None) -> tuple[tuple[Ribbon, ...], str]:
    """The award's ribbons that the record's division (or the ribbon's id in its place) and date allow, and why.

    What the record says is used only as far as it tells ribbons apart: a date outside every period settles nothing.
    """
    left, reasons = award.ribbons, []
    if division and len(left) > 1:
        named = _of_division(left, division)
        if len(named) < len(left):
            left, reasons = named, [f"the record says “{division}”"]
    if day and len(left) > 1:
        worn = [r for r in left if _within(day, r.worn)]
        if worn and len(worn) < len(left):
            left = tuple(worn)
            reasons.append(f"it was the pattern on {day.isoformat()}, the record's date")
    if len(left) > 1 and all(_looks(r) == _looks(left[0]) for r in left):
        left = left[:1]
        reasons.append("all its patterns look the same")
    return left, " and ".join(reasons) if len(left) == 1 else ""


def _of_division(ribbons: Sequence[Ribbon], division: str) -> tuple[Ribbon, ...]:
    """The ribbons of a division: so named, or by their own id, else those for whoever has none of their own.

    All of them where the name is none of these but looks like a misspelt one.
    """
    wanted = division.casefold()
    named = [r for r in ribbons if wanted in (r.division.casefold(), r.id.casefold())]
    named = named or [r for r in ribbons if re.search(rf"\b{re.escape(wanted)}\b", r.division.casefold())]
    known = {word for r in ribbons for word in (r.division.casefold(), *r.division.casefold().split(" and "), r.id)}
    if not named and not get_close_matches(wanted, known):
        named = [r for r in ribbons if not r.division]
    return tuple(named or ribbons)


def _within(day: date, period: Interval) -> bool:
    return (period.start is None or period.start <= day) and (period.end is None or day <= period.end)


def _looks(ribbon: Ribbon) -> tuple:
    return ribbon.shape, ribbon.stripes, ribbon.width_mm, ribbon.angle, ribbon.frame, ribbon.unmatched


def pattern_question(award: Award, patterns: Sequence[Ribbon], division: str, day: date | None) -> Question:
    """What the record would have to say for one of these patterns to remain."""
    if not patterns:
        message = f"{award.name}: no ribbon is described in the specification; add one to the file or ask the authority"
        return Question((award.key,), f"ribbon of {award.key}", message)
    of_division: dict[str, list[Ribbon]] = {}
    for ribbon in patterns:
        of_division.setdefault(ribbon.division, []).append(ribbon)
    several = len(of_division) > 1
    by_date = day is None and any(len({r.worn for r in same}) > 1 for same in of_division.values())
    wanted = listed(word for word, asked in (("division", several), ("date", by_date)) if asked)
    give = f"give its {wanted}" if wanted else "give the ribbon's id as its division"
    unfit = f"; “{division}” is none of them" if several and division else ""
    if not wanted and day:
        unfit = f"; the date {day.isoformat()} does not settle it"
    described = listed((_told_apart(ribbon, several) for ribbon in patterns), "or")
    message = f"{award.name} has several ribbons, {described}{unfit}: {give} in the record"
    return Question((award.key,), f"{wanted or 'ribbon'} of {award.key}", message)


def _told_apart(ribbon: Ribbon, by_division: bool) -> str:
    words = describe_pattern(ribbon)
    return f"{words}, for all others" if by_division and not ribbon.division else words


def describe_pattern(ribbon: Ribbon) -> str:
    """What tells a pattern from the award's others: division, id and period."""
    start, end = ribbon.worn.start, ribbon.worn.end
    period = f"from {start.isoformat()}" if start else ""
    period += f"{' ' if period else ''}to {end.isoformat()}" if end else ""
    words = [ribbon.division if ribbon.division != ribbon.id else "", period]
    told = ", ".join(word for word in words if word)
    return f"{ribbon.id} ({told})" if told else ribbon.id


def _emblems(award: Award, names: Iterable[str]) -> tuple[tuple[Emblem, ...], tuple[str, ...]]:
    """The emblems worn, as the specification describes them, and those it does not know."""
    worn, unknown = [], []
    for name in names:
        words = name.casefold().replace("-", " ")
        fits = [emblem for emblem in award.emblems if emblem.kind.casefold().replace("-", " ") in words]
        fits = [emblem for emblem in fits if emblem.metal and emblem.metal.casefold() in words] or fits
        unknown += [] if fits else [name]
        if len(fits) == 1:
            number = re.search(r"\d+", name)
            more = f" {number[0]}" if number and number[0] not in fits[0].kind else ""
            worn.append(replace(fits[0], kind=f"{fits[0].kind}{more}"))
        else:
            worn.append(Emblem(name))
    return tuple(worn), tuple(unknown)


def _unknown_emblems(position: str, award: Award, names: Sequence[str]) -> Finding | None:
    if not names:
        return None
    known = listed(dict.fromkeys(emblem_words(emblem) for emblem in award.emblems), "or") or "none"
    given = listed(f"“{name}”" for name in names)
    return Finding(
        kind="emblem",
        positions=(position,),
        severity="warning",
        message=f"{award.name}: {given} is not among the emblems that the specification has for it ({known}); check it",
        because="the specification lists the emblems that may be worn",
    )


def emblem_words(emblem: Emblem) -> str:
    """An emblem in words: metal and kind."""
    return f"{emblem.metal} {emblem.kind}".strip()
