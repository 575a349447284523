"""Right, wrong, or not known and what would settle it."""

from ribbonbar.precedence.model import Record, Rows, Verdict
from ribbonbar.spec.model import OrderOfWear, Specification


def judge(rows: Rows, specification: Specification, order: OrderOfWear, record: Record | None = None) -> Verdict:
    """Judge a bar, as read, against an order of wear."""
    raise NotImplementedError
