"""Are the probabilities honest? ``python -m tests.benchmarks.calibration [--count N] [--seed S] [--out FILE]``.

Collects (probability said, was it right?) of every ribbon's top candidate over simulated pictures, prints the
reliability table and the expected calibration error, and can write the pairs as JSON Lines for a fit.
"""

import argparse
import json
import os
from pathlib import Path

from tests.benchmarks.accuracy import run, simulated_tasks
from tests.benchmarks.scorer import calibration_error

TUNING_SEED = 300_000
"""Where the seeds for tuning and fitting begin; the accuracy benchmark uses others."""


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.calibration", description=__doc__.split("\n\n")[0]
    )
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=TUNING_SEED)
    parser.add_argument("--ribbons", type=int, default=300)
    parser.add_argument("--levels", default="1,2,3,4")
    parser.add_argument("--processes", type=int, default=min(2, os.cpu_count() or 1))
    parser.add_argument("--out", type=Path, help="write the pairs as JSON Lines")
    given = parser.parse_args()
    levels = [int(n) for n in given.levels.split(",")]
    tallies = run(simulated_tasks(given.count, given.seed, levels), given.processes, None, given.ribbons, True, False)
    said = [pair for tally in tallies.values() for pair in tally.said]
    for name, pairs in [*((f"level {n}", t.said) for n, t in tallies.items() if n), ("all levels", said)]:
        error, rows = calibration_error(pairs)
        print(f"\n{name}: {len(pairs)} ribbons, expected calibration error {error:.4f}")
        print("  said   right   number")
        for mean, right, number in rows:
            print(f"  {mean:.3f}  {right:.3f}  {number:6d}")
    if given.out:
        lines = (json.dumps({"level": n, "probability": p, "right": r}) for n, t in tallies.items() for p, r in t.said)
        given.out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
