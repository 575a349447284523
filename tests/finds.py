"""Finds and readings made up for the tests of what is believed: patches on even ground, and what is said of each."""

from dataclasses import replace

import numpy as np

from ribbonbar.photo.finding import Search
from ribbonbar.photo.model import FoundBar, Picture, Row
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.model import BarReading, Reading, RibbonCandidate
from ribbonbar.rows import ReadBar

GROUND = (92, 98, 104)
WRITTEN = 0.5  # share of a name plate's width that letters take
CLOTH = ((170, 30, 40), (235, 235, 230), (30, 60, 130), (30, 110, 60), (225, 190, 60), (80, 30, 90))


def picture_with(*boxes):
    """Even ground with striped patches: boxes (left, top, right, bottom)."""
    pixels = np.full((600, 900, 3), GROUND, np.uint8)
    for left, top, right, bottom in boxes:
        for number, x in enumerate(range(left, right, 20)):
            pixels[top:bottom, x : min(x + 20, right)] = CLOTH[number % len(CLOTH)]
    return Picture("patches", pixels, "")


def searched(*boxes):
    return Search(picture_with(*boxes))


def find(*boxes, confidence):
    """A find with these rows."""
    rows = tuple(Row(np.array([[a, b], [c, b], [c, d], [a, d]], float)) for a, b, c, d in boxes)
    corners = np.concatenate([row.corners for row in rows])
    (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
    outline = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    return FoundBar(outline, rows, confidence)


def ribbon(number, count, status="identified", stripes=3, award=""):
    probability = {"unidentified": 0.3, "written": 0.3, "busy": 0.3, "halfway": 0.6, "either": 0.6, "surely": 0.99}
    probability = probability.get(status, 0.978)
    candidates = (RibbonCandidate(award or f"award-{number}", "standard", False, probability),)
    if status == "either":
        candidates += (RibbonCandidate("another", "standard", False, 0.37),)
    if status == "shared":
        status, candidates = "ambiguous", tuple(replace(candidates[0], award=name, probability=0.48) for name in "ab")
    span = (number / count, (number + 1) / count)
    margin = 0.5 if status == "hardly" else 8.0
    covered = WRITTEN if status in ("halfway", "either", "written", "lettered") else 0.0
    free = -80.0 if status == "busy" else -50.0
    said = {"written": "unidentified", "busy": "unidentified", "lettered": "identified", "hardly": "identified"}
    said["surely"] = "identified"
    status = said.get(status, status)
    return Reading(span, status, candidates, (), np.zeros((1, 3)), 20.0, margin, free, stripes, covered)


def reading(told):
    """A reader that says ``told(find)`` of every find: for each row its ribbons, (status, stripes, award) each."""

    def read(found, _shading):
        rows = [tuple(ribbon(10 * r + n, 1, *one) for n, one in enumerate(row)) for r, row in enumerate(told(found), 1)]
        rows = tuple(
            tuple(
                Reading((n / len(row), (n + 1) / len(row)), *(getattr(one, f) for f in FIELDS))
                for n, one in enumerate(row)
            )
            for row in rows
        )
        return ReadBar(found, (), BarReading(rows, NEUTRAL))

    return read


FIELDS = ("status", "candidates", "emblems", "seen", "pixels_per_stripe", "margin", "free", "stripes", "covered")
KNOWN, PLAIN, UNKNOWN = ("identified", 3), ("ambiguous", 1), ("unidentified", 3)
PLATE = (300, 250, 492, 310)  # 3.2 times as wide as tall, as one ribbon is
