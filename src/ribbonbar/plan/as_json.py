"""A plan as JSON, ``ribbon-plan/1``."""

import json
from typing import Any

from ribbonbar.plan.bar import CAUTIONS, PlannedBar, PlannedRibbon

FORMAT = "ribbon-plan/1"


def to_dict(bar: PlannedBar) -> dict[str, Any]:
    """The plan as plain values, keys in the order of the format. ``sequence`` is the rows read one after the other."""
    return {
        "format": FORMAT,
        "order_of_wear": bar.order.key,
        "sequence": [ribbon.award.key for ribbon in bar.ribbons],
        "rows": [[ribbon.award.key for ribbon in row] for row in bar.rows],
        "open": [vars(question) | {"awards": list(question.awards)} for question in bar.questions],
        "findings": [vars(finding) | {"positions": list(finding.positions)} for finding in bar.findings],
        "reference": bar.reference,
        "reasons": [vars(reason).copy() for reason in bar.reasons],
        "ribbons": [_ribbon(ribbon) for ribbon in bar.ribbons],
        "row_lengths_mm": list(bar.row_widths),
        "row_height_mm": bar.height_mm,
        "editions": list(bar.editions),
        "cautions": list(CAUTIONS),
    }


def to_json(bar: PlannedBar, indent: int | None = None) -> str:
    """The plan as JSON text in plain ASCII, without a line end; on one line unless ``indent`` is given."""
    return json.dumps(to_dict(bar), indent=indent, allow_nan=False)


def _ribbon(ribbon: PlannedRibbon) -> dict[str, Any]:
    return {
        "position": ribbon.position,
        "award": ribbon.award.key,
        "ribbon": ribbon.ribbon.id if ribbon.ribbon else None,
        "may_be": [pattern.id for pattern in ribbon.patterns],
        "width_mm": ribbon.width_mm,
        "emblems": [vars(emblem).copy() for emblem in ribbon.emblems],
        "because": ribbon.because,
    }
