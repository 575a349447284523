"""The numbers of the calibration, fitted anew: ``python -m tests.benchmarks.calibration_fit [--count N] [--seed S]``.

Simulated bars, given their true rows, are read up to the evidence; then the five numbers of `Calibration` are chosen
under which the truth (which pattern, or none of the catalogue's) is likeliest, by the mean logarithmic score. Nothing
is written: the fitted numbers are printed beside those in use, to be judged and copied by hand.
"""

import argparse
from dataclasses import astuple, dataclass, fields

import numpy as np
from scipy.optimize import minimize

from ribbonbar.audit import flat_strips
from ribbonbar.photo.model import FoundBar, Picture, Row
from ribbonbar.reading.confidence import CALIBRATION, Calibration, looks
from ribbonbar.reading.observe import cut
from ribbonbar.reading.read import Heard, hear, read_rows
from ribbonbar.reading.templates import Bank, bank_of
from tests.benchmarks.calibration import TUNING_SEED
from tests.simulator import invent, simulate

UNKNOWN_WEIGHT = 10.0
"""What a ribbon in no specification counts against a known one: hardly any are simulated, and to name one wrongly is
worse than not to name a known one."""
LEAST = 1e-4
"""Probability below which being wrong costs no more: one misread picture must not rule the fit."""


@dataclass(frozen=True)
class Case:
    """One ribbon: what was heard of it, and the pattern that it has (-1: none of the catalogue's)."""

    heard: Heard
    pattern: np.ndarray
    turned: np.ndarray
    true: int


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.calibration_fit", description=__doc__.split("\n\n")[0]
    )
    parser.add_argument("--count", type=int, default=200, help="simulated pictures, over the four levels")
    parser.add_argument("--seed", type=int, default=TUNING_SEED)
    parser.add_argument("--ribbons", type=int, default=300)
    given = parser.parse_args()
    cases = collect(given.count, given.seed, given.ribbons)
    fitted = fit(cases)
    print(f"{len(cases)} ribbons, {sum(case.true < 0 for case in cases)} of them in no specification\n")
    print("| | in use | fitted |\n| --- | --- | --- |")
    for field in fields(Calibration):
        print(f"| {field.name} | {getattr(CALIBRATION, field.name):.3g} | {getattr(fitted, field.name):.3g} |")
    print(f"| mean logarithmic score | {score(cases, CALIBRATION):.4f} | {score(cases, fitted):.4f} |")


def collect(count: int, seed: int, ribbons: int) -> list[Case]:
    """The ribbons of ``count`` simulated pictures from ``seed`` on whose rows are divided right."""
    specification = invent(seed, ribbons)
    bank = bank_of(specification)
    numbers = {award: number for number, pattern in enumerate(bank.patterns) for award, _ in pattern.names}
    return [
        case
        for number in range(count)
        for case in cases_of(simulate(1 + number % 4, seed + number, specification), bank, numbers)
    ]


def cases_of(photograph, bank: Bank, numbers: dict[str, int]) -> list[Case]:
    """The ribbons of one picture's first bar; none where it is not divided into as many as it has."""
    picture, bar = Picture(photograph.name, photograph.pixels, ""), photograph.truth["bars"][0]
    rows = tuple(Row(np.array(row, float)) for row in bar["rows"])
    shone, read = read_rows(flat_strips(picture, FoundBar(np.array(bar["corners"], float), rows, 1.0)), bank)
    if [len(row.decoded.evidence) for row in read] != bar["row_lengths"]:
        return []
    heard = []
    for row in read:
        edges = row.decoded.division.edges
        heard += hear(row, cut(row.view, edges[:-1], edges[1:]), shone)
    placed = sorted(bar["ribbons"], key=lambda ribbon: tuple(map(int, ribbon["position"].split("."))))
    true = [numbers[ribbon["award"]] if ribbon["award"] else -1 for ribbon in placed]
    return [Case(one, shone.loom.pattern, shone.loom.reversed, number) for one, number in zip(heard, true, strict=True)]


def score(cases: list[Case], calibration: Calibration) -> float:
    """Weighted mean natural logarithm of the probability given to the truth; 0 is perfect."""
    weight = [UNKNOWN_WEIGHT if case.true < 0 else 1.0 for case in cases]
    return float(np.average([np.log(max(_probability(case, calibration), LEAST)) for case in cases], weights=weight))


def _probability(case: Case, calibration: Calibration) -> float:
    heard = case.heard
    even = np.ones(case.pattern.max() + 1)
    found = looks(heard.weighed, heard.free, heard.uneven, case.pattern, case.turned, even, calibration)
    if case.true < 0:
        return 1.0 - sum(look.probability for look in found)
    return sum(look.probability for look in found if look.pattern == case.true)


def fit(cases: list[Case], start: Calibration = CALIBRATION) -> Calibration:
    """The calibration that scores best, searched for from ``start`` (Nelder and Mead 1965; scales stay positive)."""
    scale = np.maximum(np.abs(astuple(start)), 0.2)

    def loss(steps: np.ndarray) -> float:
        return -score(cases, _moved(start, steps * scale))

    around = np.vstack([np.zeros(len(scale)), 0.3 * np.eye(len(scale))])
    best = minimize(
        loss, around[0], method="Nelder-Mead", options={"initial_simplex": around, "maxfev": 400, "xatol": 0.01}
    )
    return _moved(start, best.x * scale)


def _moved(start: Calibration, steps: np.ndarray) -> Calibration:
    values = dict(zip((field.name for field in fields(start)), np.array(astuple(start)) + steps, strict=True))
    return Calibration(**{name: max(v, 0.05) if name != "none_at" else v for name, v in values.items()})


if __name__ == "__main__":
    main()
