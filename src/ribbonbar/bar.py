"""One bar judged: what was read of it, joined with the order of wear, the record and the work order."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from ribbonbar.facing import Facing, FacingFound, facing_of, is_turned, turned_about
from ribbonbar.findings import Finding
from ribbonbar.options import AuditOptions
from ribbonbar.precedence.layout import alignment_findings
from ribbonbar.precedence.model import OrderChoice, Rows, Slot, Verdict
from ribbonbar.precedence.names import award_name, listed
from ribbonbar.precedence.which_order import choose_order, judge_chosen
from ribbonbar.precedence.work_order import compare, emblem_findings
from ribbonbar.reading.model import BarReading, EmblemSeen, Reading, RibbonCandidate
from ribbonbar.report.model import Outcome
from ribbonbar.spec.model import Specification

FINE_ENOUGH = 6.0
"""Photo pixels that the narrowest stripe should cover; below, near twins may look alike."""
TOO_COARSE = 2.0
"""Below this the picture limits every reading."""
PLAUSIBLE = 0.15
"""Probability, against the likeliest look's, below which a look has no say in the reasoning about order: were every
remote one heard, hardly a bar could be confirmed."""
CONFIRMING = 1 / 3
"""The same where that alone keeps a bar from being confirmed; nobody is accused by this measure."""
ACCUSING = 0.8
"""Probability that a ribbon is one of its candidates at all, below which nobody is accused on its account."""


@dataclass(frozen=True)
class Judged:
    """What is said of one bar. ``outcome`` is never ``no-bar`` here; ``seen`` are its slots as they stand on the
    picture, ``by_hand`` the positions that the user named."""

    outcome: Outcome
    order_of_wear: str
    seen: Rows
    by_hand: frozenset[str]
    findings: tuple[Finding, ...]
    verdict: Verdict


def slots_of(bar: BarReading, prefix: str, answers: dict[str, str], plausible: float = PLAUSIBLE) -> Rows:
    """The bar as the reasoning about order sees it: at each position the awards that its ribbon may be, no look less
    likely than ``plausible`` times the likeliest."""
    return tuple(
        tuple(
            Slot(name := f"{prefix}{r}.{p}", (answers[name],) if name in answers else _awards(reading, plausible))
            for p, reading in enumerate(row, 1)
        )
        for r, row in enumerate(bar.rows, 1)
    )


def _awards(reading: Reading, plausible: float) -> tuple[str, ...]:
    if reading.status == "unidentified":
        return ()
    if reading.status == "identified":
        return (reading.candidates[0].award,)
    looks: dict[float, float] = {}  # awards that share a look share its probability evenly
    for candidate in reading.candidates:
        looks[_rounded(candidate)] = looks.get(_rounded(candidate), 0.0) + candidate.probability
    least = plausible * max(looks.values())
    return tuple(dict.fromkeys(c.award for c in reading.candidates if looks[_rounded(c)] >= least))


def _rounded(candidate: RibbonCandidate) -> float:
    return round(candidate.probability, 9)


def emblem_kind(seen: EmblemSeen, awards: tuple[str, ...], specification: Specification) -> str:
    """What an emblem is, where it can be told: by its shape, or because only one kind may be worn on this ribbon."""
    allowed = {emblem.kind for award in awards for emblem in specification.awards[award].emblems}
    if seen.kind == "emblem" and len(allowed) == 1:
        return allowed.pop()
    return seen.kind if not allowed or seen.kind in allowed else "emblem"


def judge_bar(
    bar: BarReading,
    specification: Specification,
    options: AuditOptions,
    prefix: str = "",
    edges_mm: tuple[tuple[float, float], ...] = (),
) -> Judged:
    """Judge one bar as read. ``prefix`` begins every position's name where a picture holds several bars; ``edges_mm``
    are each row's left and right end as seen, along the bar, where they are known.

    The order of wear is the one asked for, else the record's or the work order's, else the one that lists most of the
    ribbons. Raises OptionError when an order that is asked for does not exist.
    """
    record, work_order = options.record, options.work_order
    seen = slots_of(bar, prefix, options.answers)
    certain = [slot.awards[0] for row in seen for slot in row if len(slot.awards) == 1]
    likely = certain or [award for row in seen for slot in row for award in slot.awards]
    choice = choose_order(likely, specification, options.order_of_wear) if specification.orders else OrderChoice("")
    facing = facing_of(bar, seen, specification, specification.orders.get(choice.key))
    rows = turned_about(seen, facing.facing)
    dates = record or (work_order if work_order and work_order.held else None)
    verdict = Verdict(False, False)
    if choice.key:
        doubted = _doubted(bar, seen) - options.answers.keys()
        verdict = _cautious(rows, doubted, lambda rows: judge_chosen(rows, specification, choice, dates))
        if not verdict.violated and not verdict.settled:
            likely = turned_about(slots_of(bar, prefix, options.answers, CONFIRMING), facing.facing)
            again = judge_chosen(likely, specification, choice, dates)
            verdict = again if again.settled and not again.violated else verdict
    findings = [
        *_facing_findings(facing, seen),
        *_turned_findings(bar, seen, specification, facing.facing),
        *verdict.findings,
        *_doubt_findings(bar, seen, specification, frozenset(options.answers)),
        *_too_small_findings(bar, seen),
    ]
    if edges_mm and choice.key and all(len(slot.awards) == 1 for row in seen for slot in row):
        edges = edges_mm if facing.facing is Facing.AS_WORN else tuple((-right, -left) for left, right in edges_mm)
        edges = edges[::-1] if facing.facing is Facing.UPSIDE_DOWN else edges
        findings += alignment_findings(rows, edges, specification, specification.orders[choice.key])
    if work_order:
        findings += compare(rows, work_order, specification, specification.orders.get(choice.key))
        kinds = {
            slot.position: [emblem_kind(emblem, slot.awards, specification) for emblem in reading.emblems]
            for slots, readings in zip(seen, bar.rows, strict=True)
            for slot, reading in zip(slots, readings, strict=True)
        }
        findings += emblem_findings(rows, kinds, work_order, specification)
    if _too_little_is_recognised(seen):
        findings = [*map(_softened, findings), _TOO_LITTLE]
    findings.sort(key=lambda finding: ("error", "warning", "note").index(finding.severity))
    by_hand = frozenset(slot.position for row in seen for slot in row if slot.position in options.answers)
    return Judged(_outcome(findings, verdict), choice.key, seen, by_hand, tuple(findings), verdict)


def _doubted(bar: BarReading, rows: Rows) -> frozenset[str]:
    """Positions whose ribbon may well be none of its candidates."""
    return frozenset(
        slot.position
        for slots, readings in zip(rows, bar.rows, strict=True)
        for slot, reading in zip(slots, readings, strict=True)
        if reading.status == "ambiguous" and reading.known < ACCUSING
    )


def _cautious(rows: Rows, doubted: frozenset[str], judge: Callable[[Rows], Verdict]) -> Verdict:
    """The verdict; where all that is wrong hangs on ribbons that are ``doubted``, it is a warning."""
    verdict = judge(rows)
    if not verdict.violated or not doubted:
        return verdict
    unnamed = tuple(tuple(replace(s, awards=()) if s.position in doubted else s for s in row) for row in rows)
    if judge(unnamed).violated:
        return verdict
    return replace(verdict, violated=False, settled=False, findings=tuple(map(_softened, verdict.findings)))


def _too_little_is_recognised(rows: Rows) -> bool:
    """True when half the bar or more is like nothing in the specification: then the light may have been misjudged, and
    with it the ribbons that seem sure. Nobody is accused on such a reading."""
    slots = [slot for row in rows for slot in row]
    return len(slots) > 1 and 2 * sum(not slot.awards for slot in slots) >= len(slots)


def _softened(finding: Finding) -> Finding:
    return replace(finding, severity="warning") if finding.severity == "error" else finding


_TOO_LITTLE = Finding(
    "photo",
    (),
    "note",
    "Half the bar or more is not recognised, so nothing is said against it; name a ribbon by hand (--answer), take the "
    "picture in better light, or name the right specification files (--spec).",
)


def _outcome(findings: list[Finding], verdict: Verdict) -> Outcome:
    if any(finding.severity == "error" for finding in findings):
        return "out-of-order"
    return "in-order" if verdict.settled else "unconfirmed"


def _facing_findings(found: FacingFound, rows: Rows) -> list[Finding]:
    if found.facing is Facing.AS_WORN:
        return []
    positions = tuple(slot.position for row in rows for slot in row)
    kind = "mirrored-photo" if found.facing is Facing.MIRRORED else "upside-down"
    looks = f"{Facing.MIRRORED.value} or {Facing.UPSIDE_DOWN.value}" if found.either else found.facing.value
    message = (
        f"The photograph looks {looks}; the bar is judged as it is worn. "
        "Positions are counted as they are seen on the picture."
    )
    return [Finding(kind, positions, "warning", message, found.evidence)]


def _turned_findings(bar: BarReading, rows: Rows, specification: Specification, facing: Facing) -> list[Finding]:
    """Asymmetrical ribbons mounted back to front. A warning: the sequence may still be right."""
    found = []
    for slots, readings in zip(rows, bar.rows, strict=True):
        for slot, reading in zip(slots, readings, strict=True):
            if slot.awards and is_turned(reading, specification, facing):
                name = listed([award_name(specification, award) for award in slot.awards], "or")
                found.append(
                    Finding(
                        "reversed",
                        (slot.position,),
                        "warning",
                        f"{name} is mounted back to front: turn the ribbon about.",
                        "its stripes run the other way round than the specification says",
                        _source(specification, reading),
                    )
                )
    return found


def _source(specification: Specification, reading: Reading) -> str:
    best = reading.candidates[0]
    ribbon = next(r for r in specification.awards[best.award].ribbons if r.id == best.ribbon)
    source = specification.sources.get(ribbon.source)
    return source.title if source else ""


def _doubt_findings(
    bar: BarReading, rows: Rows, specification: Specification, by_hand: frozenset[str]
) -> list[Finding]:
    found = []
    for slots, readings in zip(rows, bar.rows, strict=True):
        for slot, reading in zip(slots, readings, strict=True):
            if not slot.awards:
                message = "This ribbon matches nothing in the specification well enough to be named."
                nearest = award_name(specification, reading.candidates[0].award)
                found.append(
                    Finding("unidentified", (slot.position,), "warning", message, f"nearest, but unlike: {nearest}")
                )
            elif len(slot.awards) > 1:
                names = listed([award_name(specification, award) for award in slot.awards], "or")
                same = _same_ribbon(reading)
                because = "they have the same ribbon" if same else "this picture does not tell them apart"
                found.append(Finding("ambiguous", (slot.position,), "note", f"This ribbon may be {names}.", because))
            elif reading.status == "ambiguous" and slot.position not in by_hand:
                found.append(_unsure(slot, reading, specification))
    return found


def _unsure(slot: Slot, reading: Reading, specification: Specification) -> Finding:
    """A ribbon that looks like one award, but not so much that it could be called identified."""
    remote = dict.fromkeys(c.award for c in reading.candidates if c.award != slot.awards[0])
    others = [award_name(specification, award) for award in remote] + ["one that the specification does not hold"]
    message = f"This ribbon looks like {award_name(specification, slot.awards[0])}, but not for certain."
    return Finding("ambiguous", (slot.position,), "note", message, f"less likely: {listed(others, 'or')}")


def _same_ribbon(reading: Reading) -> bool:
    """True when all candidates share one look, so that no picture could tell them apart."""
    return len({_rounded(candidate) for candidate in reading.candidates}) == 1


def _too_small_findings(bar: BarReading, rows: Rows) -> list[Finding]:
    doubtful = {
        slot.position: reading.pixels_per_stripe
        for slots, readings in zip(rows, bar.rows, strict=True)
        for slot, reading in zip(slots, readings, strict=True)
        if reading.pixels_per_stripe < (FINE_ENOUGH if len(slot.awards) != 1 else TOO_COARSE)
    }
    if not doubtful:
        return []
    least = min(doubtful.values())
    return [
        Finding(
            "too-small",
            tuple(doubtful),
            "note",
            "Too small: take the picture closer to the bar, or with more pixels.",
            f"the narrowest stripe covers {least:.1f} pixels; {FINE_ENOUGH:.0f} are wanted",
        )
    ]
