"""A plan for a person at a terminal: whether it is settled, the rows, why, what is asked, what to mind."""

from ribbonbar.errors import Exit
from ribbonbar.plan.bar import CAUTIONS, PlannedBar, PlannedRibbon, describe_pattern, emblem_words
from ribbonbar.plan.cutting import mm
from ribbonbar.plan.layout import Sources, why_after
from ribbonbar.precedence.names import is_unsafe

VERDICTS = {Exit.SETTLED: "SETTLED", Exit.UNCONFIRMED: "OPEN", Exit.BROKEN: "A RULE IS BROKEN"}


def to_text(bar: PlannedBar) -> str:
    """The plan in plain lines; nothing in it steers a terminal."""
    lines = [f"{VERDICTS[bar.exit_status]}: {bar.reference or 'ribbon bar'}", f"Order of wear: {bar.order.title}"]
    before: PlannedRibbon | None = None
    sources = Sources()
    for number, (row, width) in enumerate(zip(bar.rows, bar.row_widths, strict=True), 1):
        lines += ["", f"Row {number} ({mm(width)} mm)"]
        for ribbon in row:
            lines.append(f"  {ribbon.position:<5} {_words(ribbon)}")
            why = why_after(bar, ribbon, before, sources)
            lines += [f"        {why}"] if why else []
            before = ribbon
    if bar.questions:
        lines += ["", "To be settled", *(f"  ? {question.message}" for question in bar.questions)]
    if bar.findings:
        lines += ["", "Findings", *(f"  {finding.severity}: {finding.message}" for finding in bar.findings)]
    if sources.listed:
        lines += ["", "Sources", *(f"  {line}" for line in sources.listed)]
    lines += ["", *CAUTIONS]
    return "\n".join("".join("?" if is_unsafe(letter) else letter for letter in line) for line in lines)


def _words(ribbon: PlannedRibbon) -> str:
    words = ribbon.award.name
    if ribbon.emblems:
        words += f" with {', '.join(emblem_words(emblem) for emblem in ribbon.emblems)}"
    if not ribbon.ribbon:
        return f"{words}; pattern to be settled"
    several = len(ribbon.award.ribbons) > 1
    return f"{words}; pattern {describe_pattern(ribbon.ribbon)}: {ribbon.because}" if several else words
