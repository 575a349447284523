"""Which way round a photograph shows the bar: as it is worn, mirrored (a selfie), or upside down.

A bar whose asymmetrical ribbons are all back to front, or whose every row runs junior to senior, is far likelier a
mirrored photograph than a dozen mistakes; that is found out before anything is said against the bar.
"""

from dataclasses import dataclass
from enum import Enum
from itertools import combinations

import numpy as np

from ribbonbar.precedence.model import Rows
from ribbonbar.precedence.relation import Standing, rank
from ribbonbar.reading.model import BarReading, Reading
from ribbonbar.spec.model import OrderOfWear, Ribbon, Specification


class Facing(Enum):
    """How the photograph shows the bar."""

    AS_WORN = "as worn"
    MIRRORED = "mirrored"
    UPSIDE_DOWN = "upside down"


PRIOR = {Facing.AS_WORN: 0.95, Facing.MIRRORED: 0.04, Facing.UPSIDE_DOWN: 0.01}
"""How photographs come in (estimate from memory)."""
BACK_TO_FRONT = 0.02
"""Share of asymmetrical ribbons mounted back to front (estimate from memory)."""
OUT_OF_ORDER = 0.15
"""Share of bars with a ribbon out of place (estimate from memory)."""
CONVINCING = 0.8
"""A photograph counts as turned only if it is so sure that it is not as worn. Which of the two it is, one row of
upright stripes cannot say; then the likelier is taken, and both are named."""


@dataclass(frozen=True)
class FacingFound:
    """``facing`` is what the photograph is taken to be; ``evidence`` says on what grounds, in words. ``either``: it may
    as well be the other way turned, for all that the bar shows."""

    facing: Facing
    probability: float
    evidence: str = ""
    either: bool = False


def facing_of(bar: BarReading, rows: Rows, specification: Specification, order: OrderOfWear | None) -> FacingFound:
    """The likeliest way round, from the asymmetrical ribbons and from the sequence; AS_WORN unless another convinces.

    ``rows`` are the slots as seen, parallel to ``bar.rows``.
    """
    readings = [reading for row in bar.rows for reading in row]
    sided = [share for reading in readings if (share := _turned_share(reading, specification)) is not None]
    evidence = dict.fromkeys(Facing, 0.0)
    pairs = _pair_counts(rows, specification, order)
    for facing in Facing:
        evidence[facing] = np.log(PRIOR[facing])
        for turned, diagonal, share in sided:
            expected = {Facing.AS_WORN: 1 - turned, Facing.MIRRORED: turned}.get(
                facing, 1 - turned if diagonal else turned
            )
            told = expected * (1 - BACK_TO_FRONT) + (1 - expected) * BACK_TO_FRONT
            evidence[facing] += np.log(share * told + (1 - share) / 2)
        wrong = pairs[facing][1]
        evidence[facing] += np.log(1 - OUT_OF_ORDER) if not wrong else np.log(OUT_OF_ORDER) - wrong * np.log(2.0)
    values = np.array([evidence[facing] for facing in Facing])
    shares = np.exp(values - values.max())
    shares /= shares.sum()
    best = int(shares.argmax())
    facing = list(Facing)[best]
    if facing is Facing.AS_WORN or shares[0] > 1 - CONVINCING:
        return FacingFound(Facing.AS_WORN, float(shares[0]))
    either = len(rows) == 1 and not any(diagonal for _, diagonal, _ in sided)
    return FacingFound(facing, float(shares[best]), _why(sided, pairs, facing), either)


def turned_about(rows: Rows, facing: Facing) -> Rows:
    """The slots in the sequence of the bar as worn; each keeps the position where it is seen."""
    if facing is Facing.AS_WORN:
        return rows
    flipped = tuple(tuple(reversed(row)) for row in rows)
    return flipped if facing is Facing.MIRRORED else tuple(reversed(flipped))


def is_turned(reading: Reading, specification: Specification, facing: Facing) -> bool | None:
    """True when an asymmetrical ribbon is mounted back to front, allowing for the photograph; None: cannot be told."""
    share = _turned_share(reading, specification)
    if share is None:
        return None
    turned, diagonal, _ = share
    if facing is Facing.MIRRORED or (facing is Facing.UPSIDE_DOWN and not diagonal):
        turned = 1 - turned
    return turned > CONVINCING


def _turned_share(reading: Reading, specification: Specification) -> tuple[float, bool, float] | None:
    """Probability that the ribbon is seen back to front, whether it is diagonal, and the probability that it is one of
    those with two sides at all; None for symmetrical ribbons and where the candidates do not agree that it has two."""
    if reading.status == "unidentified":
        return None
    shares = np.zeros(2)
    diagonal = False
    for candidate in reading.candidates:
        ribbon = _ribbon(specification, candidate.award, candidate.ribbon)
        if ribbon.symmetrical:
            continue
        shares[int(candidate.reversed)] += candidate.probability
        diagonal = diagonal or ribbon.shape == "diagonal"
    if shares.sum() < 0.9 * reading.known or not shares.sum():
        return None
    return float(np.clip(shares[1] / shares.sum(), 1e-3, 1 - 1e-3)), diagonal, float(min(shares.sum(), 1.0))


def _ribbon(specification: Specification, award: str, ribbon: str) -> Ribbon:
    return next(r for r in specification.awards[award].ribbons if r.id == ribbon)


def _pair_counts(rows: Rows, specification: Specification, order: OrderOfWear | None) -> dict[Facing, tuple[int, int]]:
    """For each way round, how many pairs of identified neighbours of a row (of the bar, upside down) stand certainly
    right and certainly wrong."""
    if order is None:
        return dict.fromkeys(Facing, (0, 0))
    named = [[slot.awards[0] for slot in row if len(slot.awards) == 1] for row in rows]
    ranking = rank(specification, order, [award for row in named for award in row])

    def count(pairs) -> tuple[int, int]:
        standings = [ranking.standing(first, second) for first, second in pairs]
        return standings.count(Standing.BEFORE), standings.count(Standing.AFTER)

    within = [pair for row in named for pair in combinations(row, 2)]
    across = [(a, b) for upper, lower in combinations(named, 2) for a in upper for b in lower]
    (right, wrong), (over, under) = count(within), count(across)
    return {
        Facing.AS_WORN: (right + over, wrong + under),
        Facing.MIRRORED: (wrong + over, right + under),
        Facing.UPSIDE_DOWN: (wrong + under, right + over),
    }


def _why(sided: list[tuple[float, bool, float]], pairs: dict[Facing, tuple[int, int]], facing: Facing) -> str:
    backs = sum(turned > CONVINCING for turned, _, _ in sided)
    reasons = []
    if backs:
        reasons.append(f"{backs} of {len(sided)} asymmetrical ribbons are seen back to front")
    wrong, wrong_turned = pairs[Facing.AS_WORN][1], pairs[facing][1]
    if wrong > wrong_turned:
        reasons.append(f"{wrong} pairs of ribbons stand the wrong way round as seen, {wrong_turned} when turned")
    return "; ".join(reasons)
