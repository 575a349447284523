"""The sample photographs: ``python -m tests.simulator.samples`` writes them, their truth and their table again.

All show bars of the invented country that ships with the package; each has one purpose.
"""

import json
import sys
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ribbonbar.spec.model import Specification
from ribbonbar.spec.reader import read_specification
from tests.simulator.bar import Bar, Mounted, mount
from tests.simulator.catalogue import invent_unknown
from tests.simulator.photograph import Photograph, simulate

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "sample_images"
SPECIFICATION = ROOT / "ribbon_specs" / "lorrandy.toml"
AUTHORITY, ORDER = "lorrandy", "lorrandy/lorrandy-forces"


@dataclass(frozen=True)
class Sample:
    """One sample picture. ``awards`` in reading order, ``?`` for a ribbon in no specification, ``<award`` for one
    mounted back to front; ``emblems`` by place in that list, from 0; ``expected`` is what the audit must answer."""

    name: str
    purpose: str
    expected: str
    level: int
    seed: int
    awards: str
    emblems: dict[int, tuple[str, ...]] = field(default_factory=dict)
    per_row: int = 4
    fixed: dict = field(default_factory=dict)

    def bar(self, specification: Specification) -> Bar:
        """The bar as mounted."""
        names = self.awards.split()
        known = [n.lstrip("<") for n in names]
        keys = [f"{AUTHORITY}/{'sea-gallantry-cross' if n == '?' else n}" for n in known]
        turned = tuple(i for i, n in enumerate(names) if n.startswith("<"))
        bar = mount(keys, ORDER, specification, per_row=self.per_row, reverse=turned, emblems=self.emblems)
        strange = iter(n == "?" for n in names)
        rows = tuple(tuple(self._unknown(specification) if next(strange) else m for m in row) for row in bar.rows)
        return Bar(bar.order, rows, bar.top)

    def _unknown(self, specification: Specification) -> Mounted:
        ribbon = invent_unknown(np.random.default_rng(self.seed), specification, near=False)
        return Mounted(None, ribbon, unknown="unknown-1", unknown_kind="unlike")

    def take(self, specification: Specification) -> Photograph:
        """The photograph, with purpose and expectation added to its truth."""
        settings = {"mirrored": False, "orientation": 1} | self.fixed
        bar = self.bar(specification)
        shot = simulate(self.level, self.seed, specification, bar=bar, name=self.name, **settings)
        shot.truth.update(purpose=self.purpose, expected=self.expected)
        return shot


SAMPLES = (
    Sample("in-order", "One row in the right order, tidy close-up: the first picture to try.",
           "in order; all four named", 1, 13,
           "sea-gallantry-cross keddle-isles-medal polar-survey-medal naval-long-service-medal",
           fixed={"backing": "grey", "props": (), "ev": 0.0, "kelvin": 6000.0}),
    Sample("out-of-order", "The two campaign medals stand in the wrong sequence: 1975 before 1951.",
           "out of order; move one of 1.2 and 1.3", 2, 21,
           "medal-for-saving-life tamarin-strait-medal keddle-isles-medal republic-silver-jubilee-medal",
           fixed={"backing": "oak", "props": ("ruler",), "mode": "window", "share": 0.7}),
    Sample("reversed", "The sequence is right, but one asymmetric ribbon is mounted back to front.",
           "`reversed` at 1.2", 2, 31,
           "keddle-isles-medal <tamarin-strait-medal republic-golden-jubilee-medal air-long-service-medal",
           fixed={"backing": "air-blue", "props": ("plate",), "mode": "overcast", "share": 0.72}),
    Sample("unknown", "The second ribbon is in no specification.",
           "unconfirmed; 1.2 unidentified, never guessed", 2, 41,
           "field-gallantry-cross ? gulf-of-ayle-medal meritorious-conduct-medal",
           fixed={"backing": "card-grey", "props": ("coins",), "mode": "window", "share": 0.7}),
    Sample("two-rows", "Two rows; the upper one is short and stands in the middle.",
           "in order; rows of 2 and 4", 2, 51,
           "order-of-the-heron medal-for-saving-life northern-passes-medal desert-road-star lorrandy-war-medal"
           " army-long-service-medal",
           fixed={"backing": "grey", "props": ("pocket",), "mode": "window", "share": 0.62}),
    Sample("three-rows", "Three rows with diagonal, shaded, framed and 38 mm ribbons.",
           "in order; rows of 3, 4 and 4", 2, 61,
           "order-of-public-merit sea-gallantry-cross air-gallantry-cross home-coast-star desert-road-star"
           " lorrandy-war-medal concord-force-ruvia-medal republic-silver-jubilee-medal cadet-instructors-medal"
           " state-unit-citation sennet-republic-medal",
           fixed={"backing": "felt-green", "props": (), "mode": "overcast", "share": 0.7}),
    Sample("mirrored", "A front camera's mirror picture: every asymmetric ribbon looks turned at once.",
           "`mirrored-photo`, and no accusation", 2, 71,
           "order-of-public-merit northern-passes-medal tamarin-strait-medal air-long-service-medal"
           " cadet-instructors-medal",
           fixed={"mirrored": True, "backing": "black", "props": ("plate",), "mode": "window", "share": 0.6}),
    Sample("upside-down", "The picture was taken standing on its head.",
           "`upside-down`, and no accusation", 2, 81,
           "order-of-public-merit northern-passes-medal tamarin-strait-medal republic-silver-jubilee-medal"
           " air-long-service-medal cadet-instructors-medal",
           fixed={"upside_down": True, "backing": "linen", "props": (), "mode": "overcast", "share": 0.6}),
    Sample("dim-warm-light", "One weak lamp in the evening: noise and orange light.",
           "in order", 3, 91,
           "field-gallantry-medal keddle-isles-medal concord-mission-ayle-medal naval-long-service-medal",
           fixed={"backing": "walnut", "props": (), "mode": "lamp", "kelvin": 2800.0, "ev": -0.6, "adapted": 0.55,
                  "tilt": 14.0, "roll": -7.0, "share": 0.66, "fading": 0.0, "dirt": 0.0, "shadow": False}),
    Sample("on-a-jacket", "A whole chest at 12 megapixels; the bar is a seventh of the picture's width.",
           "in order; rows of 3 and 4", 4, 101,
           "sea-gallantry-cross straits-star lorrandy-war-medal polar-survey-medal republic-golden-jubilee-medal"
           " naval-long-service-medal vessany-order-of-the-stag",
           fixed={"backing": "khaki", "mode": "window", "share": 0.15, "quality": 80, "fading": 0.0, "dirt": 0.0}),
    Sample("faded", "An old, faded and dirty bar.",
           "in order", 2, 111,
           "northern-passes-medal home-coast-star straits-star lorrandy-war-medal",
           fixed={"backing": "card-white", "props": ("ruler",), "mode": "window", "fading": 0.45, "dirt": 0.15,
                  "share": 0.7, "shadow": False}),
    Sample("look-alikes", "Two ribbons that differ in one shade, and a diagonal that has a look-alike elsewhere.",
           "in order; each told from its look-alike", 1, 121,
           "air-gallantry-cross lorrandy-war-medal border-guard-medal upland-operations-medal",
           fixed={"backing": "grey", "props": (), "ev": 0.0, "kelvin": 6000.0}),
    Sample("emblems", "Rosettes, an oak leaf and a numeral stand on the ribbons.",
           "in order; an emblem at 1.1, 1.2, 1.3 and 1.4", 2, 131,
           "sea-gallantry-cross desert-road-star lorrandy-war-medal naval-long-service-medal",
           emblems={0: ("rosette", "rosette"), 1: ("numeral",), 2: ("oak-leaf",), 3: ("rosette",)},
           fixed={"backing": "khaki", "props": ("pocket",), "mode": "overcast", "share": 0.72}),
    Sample("shared-ribbon", "The last ribbon belongs to two awards; no picture can tell which.",
           "unconfirmed; 1.4 ambiguous, both named", 2, 141,
           "sea-gallantry-cross keddle-isles-medal polar-survey-medal coastguard-long-service-medal",
           fixed={"backing": "green", "props": ("lapel",), "mode": "window", "share": 0.7}),
    Sample("dates-needed", "Two campaigns still open, so that only the wearer's dates settle their sequence.",
           "unconfirmed; with `--record record.toml` in order", 2, 151,
           "medal-for-saving-life upland-operations-medal concord-special-service-medal"
           " republic-golden-jubilee-medal",
           fixed={"backing": "black", "props": ("plate",), "mode": "window", "share": 0.7}),
    Sample("finished-bar", "A tailor's finished bar: two ribbons swapped against `work-order.toml`.",
           "out of order; with `--work-order work-order.toml` also `swapped` at 1.3 and 2.1", 2, 161,
           "field-gallantry-cross northern-passes-medal lorrandy-war-medal straits-star gulf-of-ayle-medal"
           " army-long-service-medal",
           per_row=3, fixed={"backing": "card-black", "props": ("ruler",), "mode": "overcast", "share": 0.6}),
)  # fmt: skip

_INTRODUCTION = """# Sample photographs

Photographs of an invented country's ribbon bars, to try, show and test with. They are simulated by this project
(`python -m tests.simulator.samples` draws them again), so no wearer's ribbons are shown. Each picture has its truth
beside it: `NAME.json` says what is on it, where, and what the answer must be.

Licence of everything in this folder: ours, given to the public domain (CC0 1.0).

    ribbonbar audit sample_images/out-of-order.jpg --spec ribbon_specs/lorrandy.toml --order lorrandy/lorrandy-forces

| file | purpose | what is true | expected answer |
| --- | --- | --- | --- |
"""
_RECORDS = """| `record.toml` | A wearer's record: the dates that settle `dates-needed.jpg`. | | |
| `work-order.toml` | A tailor's work order, to hold `finished-bar.jpg` against. | | |
"""


def readme(shots: list[Photograph]) -> str:
    """The folder's README.md."""
    lines = []
    for shot in shots:
        truth = shot.truth
        rows = " + ".join(str(n) for n in truth["bars"][0]["row_lengths"])
        true = f"{truth['outcome']}; {rows} ribbons"
        if truth["out_of_place"] != [[]]:
            true += "; to move: " + " or ".join(", ".join(group) for group in truth["out_of_place"])
        lines.append(f"| `{shot.name}.jpg` | {truth['purpose']} | {true} | {truth['expected']} |\n")
    return _INTRODUCTION + "".join(lines) + _RECORDS


def main() -> None:
    specification = read_specification([SPECIFICATION])
    wanted = set(sys.argv[1:])
    shots = []
    for sample in SAMPLES:
        shot = sample.take(specification)
        shots.append(shot)
        if not wanted or sample.name in wanted:
            shot.save(FOLDER)
            print(f"{shot.name}.jpg  {len(shot.jpeg) // 1024} KiB  {json.dumps(shot.truth['out_of_place'])}")
    (FOLDER / "README.md").write_text(readme(shots), encoding="utf-8")


if __name__ == "__main__":
    main()
