"""How ribbons are laid out in rows: how many in a row, and where an incomplete row goes."""

from collections.abc import Sequence
from itertools import pairwise

from ribbonbar.findings import Finding
from ribbonbar.precedence.model import Rows, Slot
from ribbonbar.precedence.names import source_name
from ribbonbar.spec.model import OrderOfWear, Specification

UNEVEN_MM = 6.0
"""How far, in millimetres, a row may stand off before it is called out of line: a fifth of a ribbon's width. Rows are
mounted a millimetre or two askew, and their ends are read to about as much (common practice, no source)."""


def lay_out(sequence: Sequence[str], order: OrderOfWear, per_row: int | None = None) -> tuple[tuple[str, ...], ...]:
    """Lay awards out in rows, top row first: full rows, and the incomplete one where the order has it.

    ``per_row`` is the number of ribbons in a full row, else the order's own. Raises ``ValueError`` when it is below 1.
    """
    number = order.ribbons_per_row if per_row is None else per_row
    if number < 1:
        raise ValueError("a row holds at least one ribbon")
    short = len(sequence) % number
    first = short if short and order.short_row == "top" else number
    cuts = [0, *range(first, len(sequence), number), len(sequence)] if sequence else []
    return tuple(tuple(sequence[start:end]) for start, end in pairwise(cuts))


def row_findings(rows: Rows, specification: Specification, order: OrderOfWear) -> tuple[Finding, ...]:
    """Warnings for rows that the order does not have: too many ribbons in one, or the incomplete one out of its place.

    Rows narrower than usual pass where the order permits their number (under a lapel), so long as no row is wider than
    the one below it.
    """
    full = {order.ribbons_per_row, *order.rows_allowed}
    filled = [(number, row) for number, row in enumerate(rows, 1) if row]
    found = []
    for number, row in filled:
        if len(row) > max(full):
            message = f"Row {number} has {len(row)} ribbons; {max(full)} are the most in a row."
            found.append(_warning(row, message, specification, order))
    for number, row in filled[1:] if order.short_row == "top" else filled[:-1]:
        if len(row) < max(full) and len(row) not in full:
            message = f"Row {number} is incomplete; the incomplete row goes to the {order.short_row}."
            found.append(_warning(row, message, specification, order))
    if order.short_row == "top" and not found:
        for (number, row), (_, below) in pairwise(filled):
            if len(row) > len(below):
                message = f"Row {number} has more ribbons than the row below it."
                found.append(_warning(row, message, specification, order))
    return tuple(found)


def alignment_findings(
    rows: Rows, edges_mm: Sequence[tuple[float, float]], specification: Specification, order: OrderOfWear
) -> tuple[Finding, ...]:
    """Warnings for an incomplete row that is not aligned as the order has it.

    ``edges_mm`` gives the left and right edge of each row as a viewer sees them, in millimetres along the bar. Where
    the order leaves it open, centred and in line with either end are both right.
    """
    if not any(rows):
        return ()
    left, right = max(edges_mm, key=lambda edges: edges[1] - edges[0])
    found = []
    for number, (row, (start, end)) in enumerate(zip(rows, edges_mm, strict=True), 1):
        if not row or end - start > right - left - UNEVEN_MM:
            continue
        centre, senior, junior = abs(start + end - left - right) / 2, abs(start - left), abs(end - right)
        off = {"centre": centre, "senior": senior, "either": min(centre, senior, junior)}[order.short_row_align]
        if off > UNEVEN_MM:
            where = {"centre": "centred", "senior": "in line with the senior end"}
            wanted = where.get(order.short_row_align, "centred or in line with an end")
            found.append(_warning(row, f"Row {number} is {off:.0f} mm off being {wanted}.", specification, order))
    return tuple(found)


def _warning(row: Sequence[Slot], message: str, specification: Specification, order: OrderOfWear) -> Finding:
    positions = tuple(slot.position for slot in row)
    source = source_name(specification, order.source)
    return Finding("row-layout", positions, "warning", message, f"rows as laid down in {order.title}", source)
