"""Right, wrong, or not known and what would settle it."""

from dataclasses import replace
from itertools import combinations

from ribbonbar.findings import Finding
from ribbonbar.precedence.dates import dates_needed_findings, disputed_findings, record_findings
from ribbonbar.precedence.layout import row_findings
from ribbonbar.precedence.misplaced import (
    Arrangement,
    arrange,
    misplaced_findings,
    possibly_misplaced_findings,
    unmoved,
)
from ribbonbar.precedence.model import UNIDENTIFIED, Record, Rows, Slot, Verdict
from ribbonbar.precedence.moves import conflicts
from ribbonbar.precedence.names import listed, source_name
from ribbonbar.precedence.readings import (
    Bar,
    Budget,
    Limits,
    Reading,
    TooManyError,
    certain_before,
    core,
    fewest_moves_reading,
    only_candidates,
    permitted_reading,
    sequence_limits,
)
from ribbonbar.precedence.relation import Ranking, Standing, rank
from ribbonbar.precedence.rules import all_limits, is_other_bar, rule_findings, worn_elsewhere
from ribbonbar.spec.model import OrderOfWear, Specification


def judge(rows: Rows, specification: Specification, order: OrderOfWear, record: Record | None = None) -> Verdict:
    """Judge a bar, as read, against an order of wear.

    A finding is an error only if it holds in every reading of the bar that its candidates leave; it is a warning if
    it holds in some. Unidentified ribbons may be anything, so nothing is said of them here.
    Raises ``SpecError`` when the order itself is faulty (an award named twice, fixed sequences in a circle).
    """
    slots = tuple(replace(slot, awards=tuple(dict.fromkeys(slot.awards))) for row in rows for slot in row)
    named = tuple(slot for slot in slots if slot.awards)
    ranking = rank(specification, order, (award for slot in named for award in slot.awards), record)
    bar = Bar(ranking, named, unidentified=len(slots) - len(named))
    other_bar = is_other_bar(specification, rows)
    limits, budget = all_limits(bar, other_bar), Budget()

    right, known = _permitted(bar, limits, budget)
    in_sequence, sequence_known = (
        (right, True) if right is not None else _permitted(bar, sequence_limits(ranking), budget)
    )
    reading, proven = (in_sequence, True) if in_sequence is not None else fewest_moves_reading(ranking, bar.choices)
    arrangement = arrange(slots, bar, reading)
    if not sequence_known and arrangement.moved:
        arrangement = unmoved(arrangement)  # a permitted reading may exist that was not found
    to_move = tuple(slots[i].position for i in arrangement.moved)

    findings = misplaced_findings(bar, arrangement)
    if in_sequence is None and sequence_known and not _has_error(findings):
        findings.append(_however_read(bar, sequence_limits(ranking), "the sequence is broken"))
    findings += possibly_misplaced_findings(bar, to_move) + rule_findings(bar, other_bar)
    if right is None and known and not _has_error(findings):
        findings.append(_however_read(bar, limits, "the sequence or a rule is broken"))
    if right is not None:
        findings += _one_assignment(bar, limits, right, budget)

    where = _where(slots, ranking)
    open_pairs = _open_pairs(arrangement, ranking)
    findings += disputed_findings(ranking, where) + dates_needed_findings(ranking, open_pairs, where)
    findings += record_findings(record, specification, order, where) if record else []
    findings += _not_listed(bar, other_bar)
    findings += row_findings(rows, specification, order)
    findings.sort(key=lambda finding: _SEVERITIES.index(finding.severity))
    identified = bool(slots) and all(len(slot.awards) == 1 for slot in slots)
    return Verdict(
        violated=_has_error(findings),
        settled=identified and not open_pairs and all(slot.awards[0] in ranking.places for slot in slots),
        findings=tuple(findings),
        proposed_order=tuple(_shown(ranking, arrangement.reading[i]) for i in arrangement.sequence),
        to_move=to_move,
        proposed_positions=tuple(slots[i].position for i in arrangement.sequence),
        proven_minimal=proven,
    )


_SEVERITIES = ("error", "warning", "note")


def _has_error(findings: list[Finding]) -> bool:
    return any(finding.severity == "error" for finding in findings)


def _permitted(bar: Bar, limits: Limits, budget: Budget) -> tuple[Reading | None, bool]:
    """A permitted reading, and whether it is known that there is none when none was found."""
    if any(conflicts(certain_before(bar.ranking, bar.choices))):
        return None, True
    try:
        return permitted_reading(bar, limits, budget), True
    except TooManyError:
        return None, False


def _shown(ranking: Ranking, award: int | None) -> str:
    return UNIDENTIFIED if award is None else ranking.awards[award]


def _however_read(bar: Bar, limits: Limits, what: str) -> Finding:
    """The error for a bar whose every reading is broken, though not each at the same ribbons."""
    order = bar.ranking.order
    positions = tuple(bar.slots[i].position for i in core(bar, limits, Budget()))
    message = f"However the ribbons at {listed(positions)} are read, {what}."
    because = f"no choice among their possible awards is permitted by {order.title}"
    return Finding(
        "out-of-place", positions, "error", message, because, source_name(bar.ranking.specification, order.source)
    )


def _one_assignment(bar: Bar, limits: Limits, right: Reading, budget: Budget) -> list[Finding]:
    only = only_candidates(bar, limits, right, budget)
    if not only:
        return []
    names = listed(bar.name(i, award) for i, award in only.items())
    message = f"Only with {names} would this be a permitted bar; that does not identify a ribbon."
    positions = tuple(bar.slots[i].position for i in only)
    return [Finding("one-assignment", positions, "note", message, "every other choice breaks the order or a rule")]


def _where(slots: tuple[Slot, ...], ranking: Ranking) -> dict[str, str]:
    """The position of each award that is identified, senior first."""
    where: dict[str, str] = {}
    for slot in slots:
        if len(slot.awards) == 1:
            where.setdefault(slot.awards[0], slot.position)
    return where


def _open_pairs(arrangement: Arrangement, ranking: Ranking) -> list[tuple[str, str]]:
    """Pairs of identified awards that all rules together leave open."""
    single = [i for i, slot in enumerate(arrangement.slots) if len(slot.awards) == 1]
    pairs = []
    for i, j in combinations(single, 2):
        if arrangement.before[i] >> j & 1 or arrangement.before[j] >> i & 1:
            continue
        pair = (arrangement.slots[i].awards[0], arrangement.slots[j].awards[0])
        if ranking.standing(*pair) is not Standing.EITHER:
            pairs.append(pair)
    return pairs


def _not_listed(bar: Bar, other_bar: bool) -> list[Finding]:
    order, places = bar.ranking.order, bar.ranking.places
    absent = [i for i, slot in enumerate(bar.slots) if not any(award in places for award in slot.awards)]
    if not other_bar:  # of what is not for this bar it has been said already
        specification = bar.ranking.specification
        absent = [i for i in absent if not all(worn_elsewhere(specification, a) for a in bar.slots[i].awards)]
    if not absent:
        return []
    message = f"{listed(bar.name(i) for i in absent)}: not listed in {order.title}, so the place is not known."
    positions = tuple(bar.slots[i].position for i in absent)
    source = source_name(bar.ranking.specification, order.source)
    return [Finding("order-of-wear", positions, "note", message, "the order of wear used does not list it", source)]
