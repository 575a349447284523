"""How fast and how lean: ``python -m tests.benchmarks.speed``.

One warm process audits a 12-megapixel JPEG of three rows of four against 600 ribbons, beside Pillow's full decode of
the same file in the same run; then the reading against 150, 600 and 2400 ribbons, peak memory at 12 and 50 megapixels
(Linux only) in fresh processes, a cold command line, and ``--help``.
"""

import argparse
import io
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median

os.environ.setdefault("OMP_NUM_THREADS", "1")

import cv2
import numpy as np
from PIL import Image

from ribbonbar.audit import AuditOptions, Catalogue, audit_file, flat_strips
from ribbonbar.photo.finding import Search
from ribbonbar.photo.opening import open_photo
from ribbonbar.reading.read import read_bar
from ribbonbar.spec.model import Specification
from tests.simulator import invent, simulate, toml
from tests.simulator.bar import in_order, mount

SEED, RIBBONS = 8101, 600
COMMAND = (sys.executable, "-c", "from ribbonbar.cli import run; run()")
_PEAK = """
import re, sys
from pathlib import Path
from ribbonbar.audit import AuditOptions, audit_file, load_catalogue
photo, specification, order = sys.argv[1:]
report = audit_file(Path(photo), load_catalogue([Path(specification)]), AuditOptions(order=order))
# Not ru_maxrss: a child inherits its parent's peak there.
print(int(re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())[1]) / 1024, len(report.bars))
"""


def seconds(work: Callable[[], object]) -> float:
    """Wall-clock time of one call."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def bar_picture(specification: Specification) -> tuple[np.ndarray, bytes, str, list[str]]:
    """A 12-megapixel chest with three rows of four: pixels, JPEG, order of wear, the awards on it."""
    order = next(o for o in specification.orders.values() if o.ribbons_per_row == 4)
    rng = np.random.default_rng(SEED)
    listed = [award for group in order.groups for award in group.awards]
    awards = in_order([listed[i] for i in rng.choice(len(listed), 12, replace=False)], order, specification)
    bar = mount(awards, order.key, specification)
    settings = {"share": 0.16, "tilt": 5.0, "roll": 2.0, "mode": "overcast", "orientation": 1, "quality": 85}
    shot = simulate(4, SEED, specification, bar=bar, **settings)
    return shot.pixels, shot.jpeg, order.key, awards


def joined(specifications: list[Specification]) -> Specification:
    """Several invented catalogues as one."""
    first, *others = specifications
    for other in others:
        first = replace(
            first,
            authorities=first.authorities | other.authorities,
            sources=first.sources | other.sources,
            colours=first.colours | other.colours,
            awards=first.awards | other.awards,
            orders=first.orders | other.orders,
        )
    return first


def cut(specification: Specification, number: int, keep: list[str]) -> Specification:
    """A catalogue of ``number`` awards, those in ``keep`` among them."""
    chosen = list(dict.fromkeys([*keep, *specification.awards]))[:number]
    return replace(specification, awards={key: specification.awards[key] for key in chosen})


def warm(photo: Path, catalogue: Catalogue, order: str, repeats: int) -> None:
    """The whole audit against Pillow's decode, alternating."""
    options = AuditOptions(order=order)
    audit_file(photo, catalogue, options)

    def decode() -> None:
        Image.open(photo).load()

    decodes, audits, reports = [], [], []
    for _ in range(repeats):
        decodes.append(seconds(decode))
        audits.append(seconds(lambda: reports.append(audit_file(photo, catalogue, options))))
    rows = max(sum(len(bar.rows) for bar in reports[0].bars), 1)
    picture = open_photo(photo)
    strips = [flat_strips(picture, found) for found in Search(picture).bars()]
    bank = catalogue.asked(order).bank
    matching = [seconds(lambda: [read_bar(each, bank) for each in strips]) * 1000 for _ in range(repeats)]
    stages = {name: median(r.timing_ms[name] for r in reports) for name in reports[0].timing_ms}
    ratio = median(a / d for a, d in zip(audits, decodes, strict=True))
    print(f"Pillow's full decode       {median(decodes) * 1000:8.1f} ms")
    print(f"whole audit                {median(audits) * 1000:8.1f} ms   ratio {ratio:.2f} (demand: 2.0)")
    print("  " + ", ".join(f"{name} {spent:.1f}" for name, spent in stages.items()))
    print(f"matching, a row ({rows})       {median(matching) / rows:8.1f} ms   (demand: 60)")
    print(f"  and the search for other bars, a row {stages.get('read', 0) / rows:.1f}")
    print(f"rows read                  {[len(row) for bar in reports[0].bars for row in bar.rows]}")


def growth(photo: Path, specification: Specification, awards: list[str], order: str, repeats: int) -> None:
    """The reading's cost as the catalogue grows."""
    whole = joined([specification, *(invent(SEED + n, RIBBONS) for n in (1, 2, 3))])
    for number in (150, 600, 2400):
        catalogue = Catalogue.of(cut(whole, number, awards))
        options = AuditOptions(order=order)
        audit_file(photo, catalogue, options)
        spent = [audit_file(photo, catalogue, options).timing_ms["read"] for _ in range(repeats)]
        print(f"reading, {number:5d} ribbons     {median(spent):8.1f} ms")


def peak(photo: Path, specification: Path, order: str) -> tuple[float, int]:
    """Peak resident memory in MiB of a fresh process that audits one photo, and the number of bars it found."""
    command = [sys.executable, "-c", _PEAK, str(photo), str(specification), order]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"the audit failed: {done.stderr.strip().splitlines()[-1]}")
    memory, bars = done.stdout.split()
    return float(memory), int(bars)


def cold(command: list[str]) -> tuple[float, int]:
    """Best of three fresh runs of a command, seconds, and its exit status; threads as a user's shell leaves them."""
    spent, status = [], 0
    shell = {name: value for name, value in os.environ.items() if name != "OMP_NUM_THREADS"}
    for _ in range(3):
        start = time.perf_counter()
        status = subprocess.run(command, env=shell, capture_output=True, check=False).returncode
        spent.append(time.perf_counter() - start)
    return min(spent), status


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.speed", description="How fast and how lean.")
    parser.add_argument("--repeats", type=int, default=5)
    given = parser.parse_args()
    cv2.setNumThreads(1)
    specification = invent(SEED, RIBBONS)
    pixels, jpeg, order, awards = bar_picture(specification)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        photo, large, listed = folder / "chest.jpg", folder / "large.jpg", folder / "catalogue.toml"
        photo.write_bytes(jpeg)
        listed.write_text(toml.write(specification), encoding="utf-8")
        buffer = io.BytesIO()
        enlarged = cv2.resize(pixels, (8160, 6120), interpolation=cv2.INTER_CUBIC)
        Image.fromarray(enlarged).save(buffer, "JPEG", quality=85)
        large.write_bytes(buffer.getvalue())
        print(f"12 megapixels, 3 rows of 4, {RIBBONS} ribbons, one warm process, median of {given.repeats}")
        warm(photo, Catalogue.of(specification), order, given.repeats)
        growth(photo, specification, awards, order, given.repeats)
        for path, most in ((photo, 450), (large, 900)):
            memory, bars = peak(path, listed, order)
            print(f"peak memory, {path.stem:8s}      {memory:8.0f} MiB  (demand: {most}; bars found: {bars})")
        audit = [*COMMAND, "audit", str(photo), "--spec", str(listed), "--order", order, "--json", "-"]
        for label, command, most in (("cold audit", audit, "1.5"), ("--help", [*COMMAND, "--help"], "0.3")):
            spent, status = cold(command)
            print(f"command line, {label:10s}   {spent:8.2f} s    (demand: {most}; exit status {status})")


if __name__ == "__main__":
    main()
