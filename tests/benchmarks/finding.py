"""How well bars are found: ``python -m tests.benchmarks.finding [--count N] [--seed S] [--photos DIR] [--misses]``.

Per level, on simulated pictures and on a folder of photographs with truth files if one is named: bars found (outline
and true outline share at least 0.75 of their union), row counts right, how far row corners are off in millimetres (a
row taken as 10 mm tall), bars found where none is (pictures without one: simulated, and those scikit-image ships), and
time against Pillow's decoding of the same file.
"""

import argparse
import io
import json
import os
import time
from dataclasses import dataclass, field
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import cv2
import numpy as np
from PIL import Image

from ribbonbar.photo.finding import Search
from ribbonbar.photo.model import FoundBar, Picture
from ribbonbar.photo.opening import open_photo
from tests.simulator import invent, simulate

FIRST_SEED = 800_000  # kept for measuring
SHIPPED = ("astronaut", "brick", "camera", "cat", "cell", "chelsea", "clock", "coffee", "coins", "colorwheel", "grass",
           "gravel", "horse", "hubble_deep_field", "immunohistochemistry", "logo", "microaneurysms", "moon", "page",
           "rocket", "text")  # fmt: skip


@dataclass
class Tally:
    pictures: int = 0
    found: int = 0
    counted: int = 0
    extra: int = 0
    off: list[float] = field(default_factory=list)
    times: list[float] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)


def shared_area(one: np.ndarray, other: np.ndarray) -> float:
    """Intersection over union of the convex hulls of two point sets (N, 2)."""
    one, other = (cv2.convexHull(np.asarray(points, np.float32)) for points in (one, other))
    common, _ = cv2.intersectConvexConvex(one, other)
    return common / (cv2.contourArea(one) + cv2.contourArea(other) - common)


def count(tally: Tally, name: str, bars: tuple[FoundBar, ...], truth: list[list[np.ndarray]]) -> None:
    """Add one picture: what was found, and for each true bar its rows (4, 2)."""
    tally.pictures += len(truth)
    outlines = [np.concatenate([row.corners for row in bar.rows]) for bar in bars]
    used = set()
    for rows in truth:
        fits = [shared_area(outline, np.concatenate(rows)) for outline in outlines]
        best = int(np.argmax(fits)) if fits else -1
        if best < 0 or fits[best] < 0.75:
            tally.missed.append(f"{name}: best overlap {max(fits, default=0):.2f}")
            continue
        used.add(best)
        tally.found += 1
        if len(bars[best].rows) != len(rows):
            tally.missed.append(f"{name}: {len(bars[best].rows)} rows for {len(rows)}")
            continue
        tally.counted += 1
        for seen, row in zip(bars[best].rows, rows, strict=True):
            height = (np.linalg.norm(row[3] - row[0]) + np.linalg.norm(row[2] - row[1])) / 2
            tally.off += list(np.linalg.norm(seen.corners - row, axis=1) / height * 10)
        if max(tally.off[-4 * len(rows) :]) > 3:
            tally.missed.append(f"{name}: a corner {max(tally.off[-4 * len(rows) :]):.1f} mm off")
    if len(bars) > len(used):
        tally.extra += 1
        tally.missed.append(f"{name}: {len(bars) - len(used)} bars too many")


def measure_simulated(level: int, number: int, seed: int) -> Tally:
    catalogue, tally = invent(4711, 300), Tally()
    for k in range(number):
        photograph = simulate(level, seed + k, catalogue)
        picture = Picture(photograph.name, photograph.pixels, "")
        begun = time.process_time()
        bars = Search(picture).bars()
        spent = time.process_time() - begun
        begun = time.process_time()
        Image.open(io.BytesIO(photograph.jpeg)).load()
        tally.times.append(spent / (time.process_time() - begun))
        rows = [[np.array(row) for row in bar["rows"]] for bar in photograph.truth["bars"]]
        count(tally, photograph.name, bars, rows)
    return tally


def measure_folder(folder: Path) -> dict[int, Tally]:
    tallies: dict[int, Tally] = {}
    for file in sorted(folder.glob("*.json")):
        truth = json.loads(file.read_text(encoding="utf-8"))
        if "bars" not in truth:
            continue
        tally = tallies.setdefault(truth["level"], Tally())
        path = folder / truth["photo"]
        picture = open_photo(path)
        begun = time.process_time()
        bars = Search(picture).bars()
        spent = time.process_time() - begun
        begun = time.process_time()
        Image.open(path).load()
        tally.times.append(spent / (time.process_time() - begun))
        count(tally, path.stem, bars, [[np.array(row) for row in bar["rows"]] for bar in truth["bars"]])
    return tallies


def without_bar(number: int, seed: int) -> list[str]:
    """Names of the pictures without a bar on which one was found."""
    from skimage import data

    wrong = []
    catalogue = invent(4711, 300)
    for k in range(number):
        photograph = simulate(1 + k % 4, seed + 50_000 + k, catalogue, bare=True)
        if Search(Picture(photograph.name, photograph.pixels, "")).bars():
            wrong.append(f"{photograph.name} (bare)")
    for name in SHIPPED:
        try:
            pixels = np.asarray(getattr(data, name)())
        except Exception:  # some are fetched on demand, and there may be no network
            continue
        pixels = (pixels * 255).astype(np.uint8) if pixels.dtype == bool else pixels.astype(np.uint8)
        pixels = np.repeat(pixels[..., None], 3, axis=2) if pixels.ndim == 2 else pixels[..., :3]
        if Search(Picture(name, np.ascontiguousarray(pixels), "")).bars():
            wrong.append(name)
    return wrong


def show(title: str, tally: Tally, misses: bool) -> None:
    off = np.array(tally.off) if tally.off else np.array([np.nan])
    print(
        f"| {title} | {tally.pictures} | {tally.found / max(tally.pictures, 1):.1%} "
        f"| {tally.counted / max(tally.pictures, 1):.1%} | {tally.extra} | {np.mean(off):.2f} | {np.median(off):.2f} "
        f"| {np.percentile(off, 90):.2f} | {(off < 0.5).mean():.0%} | {np.median(tally.times):.2f} |",
        flush=True,
    )
    if misses:
        print("\n".join(f"    {line}" for line in tally.missed), flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.finding", description=__doc__)
    parser.add_argument("--count", type=int, default=50, help="simulated pictures a level")
    parser.add_argument("--levels", type=int, nargs="*", default=[1, 2, 3, 4])
    parser.add_argument("--seed", type=int, default=FIRST_SEED)
    parser.add_argument("--photos", type=Path, help="folder of photographs with truth files")
    parser.add_argument("--bare", type=int, default=20, help="simulated pictures without a bar")
    parser.add_argument("--misses", action="store_true", help="say which pictures went wrong, and how")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    print("| pictures | bars | found | rows counted | too many | corners off, mean mm | median | 90 % | < 0.5 mm |"
          " time / Pillow decode |\n|---|---|---|---|---|---|---|---|---|---|")  # fmt: skip
    if given.photos:
        for level, tally in sorted(measure_folder(given.photos).items()):
            show(f"photographs, level {level}", tally, given.misses)
    for level in given.levels if given.count else []:
        show(f"simulated, level {level}", measure_simulated(level, given.count, given.seed), given.misses)
    if given.bare:
        wrong = without_bar(given.bare, given.seed)
        print(f"bars found where none is: {len(wrong)} {', '.join(wrong)}")


if __name__ == "__main__":
    main()
