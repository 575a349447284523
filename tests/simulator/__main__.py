"""``python -m tests.simulator --level 2 --seed 5 --count 10 --out FOLDER``: pictures, truth files, specification."""

import argparse
import json
from pathlib import Path

from tests.simulator import invent, simulate, toml


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.simulator", description=__doc__)
    parser.add_argument("--level", type=int, choices=(1, 2, 3, 4), default=2)
    parser.add_argument("--seed", type=int, default=1, help="first picture's seed; the next ones follow")
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--catalogue-seed", type=int, default=1)
    parser.add_argument("--ribbons", type=int, default=300, help="awards in the invented catalogue")
    parser.add_argument("--mirrored", action="store_true")
    parser.add_argument("--upside-down", action="store_true")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    catalogue = invent(given.catalogue_seed, given.ribbons)
    (given.out / "catalogue.toml").write_text(toml.write(catalogue), encoding="utf-8")
    for seed in range(given.seed, given.seed + given.count):
        photograph = simulate(
            given.level, seed, catalogue, mirrored=True if given.mirrored else None, upside_down=given.upside_down
        )
        photograph.save(given.out)
        truth = photograph.truth
        print(f"{photograph.name}.jpg  {json.dumps(truth['bars'][0]['row_lengths'])}  {truth['outcome']}")


if __name__ == "__main__":
    main()
