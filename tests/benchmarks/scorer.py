"""One scorer for every truth file: what a report got right of one picture, and the sums over many.

A bar is found at an intersection over union of 0.75 with its outline, a ribbon at 0.5 with its quad. Several awards
with one ribbon count as one: the picture cannot tell them apart.
"""

from collections import Counter
from dataclasses import dataclass, field

import cv2
import numpy as np

from ribbonbar.report.model import Bar, Position, Report

BAR_OVERLAP, RIBBON_OVERLAP = 0.75, 0.5


@dataclass
class Tally:
    """Sums over pictures: ``right[name]`` of ``asked[name]``; ``said``: (probability, right?) of top candidates."""

    right: Counter = field(default_factory=Counter)
    asked: Counter = field(default_factory=Counter)
    said: list[tuple[float, bool]] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def count(self, name: str, right: bool) -> None:
        self.asked[name] += 1
        self.right[name] += bool(right)

    def add(self, other: "Tally") -> None:
        self.right += other.right
        self.asked += other.asked
        self.said += other.said
        self.seconds += other.seconds
        self.notes += other.notes

    def share(self, name: str) -> float | None:
        """Share of those asked that were right; None when nothing was asked."""
        return self.right[name] / self.asked[name] if self.asked[name] else None


def overlap(first, second) -> float:
    """Intersection over union of two convex outlines, (N, 2) points each."""
    a, b = (cv2.convexHull(np.asarray(p, np.float32).reshape(-1, 1, 2)) for p in (first, second))
    area_a, area_b = cv2.contourArea(a), cv2.contourArea(b)
    if area_a <= 0 or area_b <= 0:
        return 0.0
    common, _ = cv2.intersectConvexConvex(a, b)
    return float(common / (area_a + area_b - common))


def score(truth: dict, report: Report, alike: dict[str, tuple[str, ...]], seconds: float) -> Tally:
    """What the report got right of one picture. ``alike``: for an award the others with the same ribbon."""
    tally = Tally(seconds=[seconds])
    findings = {(f.kind, p) for f in report.findings for p in f.positions}
    kinds = {f.kind for f in report.findings}
    for true_bar in truth["bars"]:
        bar, bar_overlap = _best_bar(true_bar, report)
        tally.count("bar found", bar_overlap >= BAR_OVERLAP)
        lengths = [len(row) for row in bar.rows] if bar else []
        counted = lengths == true_bar["row_lengths"]
        tally.count("ribbons counted", counted)
        if not counted:
            note = f"rows {true_bar['row_lengths']} read as {lengths} (bar overlap {bar_overlap:.2f})"
            tally.notes.append(f"{truth['id']}: {note}")
        matched = _match(true_bar["ribbons"], bar)
        for ribbon, position in zip(true_bar["ribbons"], matched, strict=True):
            _score_ribbon(tally, truth, ribbon, position, alike, findings)
    invented = len(report.bars) - len(truth["bars"])
    tally.count("bar invented", invented > 0)
    if invented > 0:
        tally.notes.append(f"{truth['id']}: {invented} bar too many")
    _score_views(tally, truth, kinds)
    right = _outcome_right(truth, report, kinds)
    if right is not None:
        tally.count("outcome right", right)
        if not right:
            tally.notes.append(f"{truth['id']}: outcome {truth['outcome']} said {report.outcome} {truth['why']}")
    return tally


def score_without_bar(truth: dict, report: Report) -> Tally:
    """A picture without any bar: the outcome must be ``no-bar``."""
    tally = Tally()
    tally.count("no bar said", report.outcome == "no-bar")
    if report.outcome != "no-bar":
        tally.notes.append(f"{truth['id']}: no bar, said {[len(row) for bar in report.bars for row in bar.rows]}")
    return tally


def lost(truth: dict, error: str) -> Tally:
    """The audit raised: everything asked, nothing right."""
    tally = Tally(notes=[f"{truth['id']}: {error}"])
    if not truth["bars"]:
        tally.count("no bar said", False)
        return tally
    for name in ("bar found", "ribbons counted", "outcome right"):
        tally.count(name, False)
    for ribbon in (r for bar in truth["bars"] for r in bar["ribbons"]):
        tally.count("top candidate right" if ribbon["award"] else "unknown rejected", False)
    return tally


def _best_bar(true_bar: dict, report: Report) -> tuple[Bar | None, float]:
    best, best_overlap = None, 0.0
    for bar in report.bars:
        value = max(overlap(bar.corners, true_bar["corners"]), overlap(bar.corners, true_bar["hull"]))
        if value > best_overlap:
            best, best_overlap = bar, value
    return best, best_overlap


def _match(ribbons: list[dict], bar: Bar | None) -> list[Position | None]:
    positions = [p for row in bar.rows for p in row] if bar else []
    matched: list[Position | None] = []
    for ribbon in ribbons:
        best = max(positions, key=lambda p: overlap(p.corners, ribbon["corners"]), default=None)
        found = best is not None and overlap(best.corners, ribbon["corners"]) >= RIBBON_OVERLAP
        matched.append(best if found else None)
    return matched


def _score_ribbon(tally: Tally, truth: dict, ribbon: dict, position: Position | None, alike, findings) -> None:
    where = f"{truth['id']} {ribbon['position']}"
    top = position.candidates[0] if position and position.candidates else None
    status = position.status if position else "missed"
    others = ribbon["also"] if "also" in ribbon else alike.get(ribbon["award"], ())
    same = {ribbon["award"], ribbon["same_ribbon"], *others} - {None}
    tally.count("ribbon found", position is not None)
    right = bool(top) and top.award in same
    if ribbon["award"]:
        tally.count("top candidate right", right)
        tally.count("known rejected", status == "unidentified")
        if not right:
            said = f"{top.award} {top.probability:.2f}" if top else "nothing"
            tally.notes.append(f"{where}: {ribbon['award']} read as {said} ({status})")
    else:
        near = ribbon.get("unknown_kind") == "near"
        rejected = status in ("unidentified", "ambiguous") if near else status == "unidentified"
        tally.count("unknown rejected", rejected)
        if not rejected:
            tally.notes.append(
                f"{where}: unknown ({ribbon.get('unknown_kind')}) read as {top and top.award} ({status})"
            )
    silent = status == "identified" and not right
    tally.count("silent error", silent)
    if silent and ribbon["award"]:
        tally.notes.append(f"{where}: silent error")
    tally.count("identified", status == "identified")
    if len(same) > 1:
        named = {c.award for c in position.candidates} if position else set()
        tally.count("shared ribbon said ambiguous, all named", status == "ambiguous" and same <= named)
    if position and top:
        group = {top.award, *alike.get(top.award, ())}
        sure = min(sum(c.probability for c in position.candidates if c.award in group), 1.0)
        tally.said.append((sure, right))
    if ribbon["emblems"]:
        tally.count("emblem seen", bool(position and position.emblems))
        kinds = {e.kind for e in position.emblems} if position else set()
        tally.count("emblem's kind right", bool(kinds & set(ribbon["emblems"])))
    elif position:
        tally.count("emblem invented", bool(position.emblems))
    if not ribbon["symmetric"] and ribbon["award"] and not truth["mirrored"] and position:
        said = ("reversed", position.position) in findings or bool(top and right and top.reversed)
        if ribbon["reversed"]:
            tally.count("reversed found", ("reversed", position.position) in findings)
        else:
            tally.count("reversed falsely", ("reversed", position.position) in findings)
        if said != ribbon["reversed"]:
            tally.notes.append(f"{where}: reversed is {ribbon['reversed']}, said {said}")


def _evidence(truth: dict) -> bool:
    """Whether the bar shows which way round the picture is: asymmetric, known, rightly mounted ribbons in majority."""
    ribbons = [r for r in truth["bars"][0]["ribbons"] if r["award"] and not r["symmetric"]]
    return sum(1 if not r["reversed"] else -1 for r in ribbons) >= 2


def _score_views(tally: Tally, truth: dict, kinds: set[str]) -> None:
    for key, kind in (("mirrored", "mirrored-photo"), ("upside_down", "upside-down")):
        if truth.get(key):
            if _evidence(truth):
                tally.count(f"{key} noticed", kind in kinds)
                if kind not in kinds:
                    tally.notes.append(f"{truth['id']}: {key} not noticed")
        else:
            tally.count(f"{key} falsely", kind in kinds)
            if kind in kinds:
                tally.notes.append(f"{truth['id']}: said {kind}, is not")


def _outcome_right(truth: dict, report: Report, kinds: set[str]) -> bool | None:
    """None where the picture is turned over and holds no evidence of it: then nothing can be right."""
    if truth["mirrored"] or truth.get("upside_down"):
        wanted = "mirrored-photo" if truth["mirrored"] else "upside-down"
        return wanted in kinds if _evidence(truth) else None
    if report.outcome == truth["outcome"]:
        return True
    return truth["any_reversed"] and truth["outcome"] == "in-order" and report.outcome == "out-of-order"


def calibration_error(said: list[tuple[float, bool]], bins: int = 10) -> tuple[float, list[tuple[float, float, int]]]:
    """Expected calibration error (Naeini et al. 2015: bins of equal width, weighted by their numbers), and per bin the
    mean probability said, the share right and the number."""
    if not said:
        return 0.0, []
    sure, right = np.array([s for s, _ in said]), np.array([r for _, r in said], float)
    index = np.minimum((sure * bins).astype(int), bins - 1)
    table = [
        (float(sure[index == b].mean()), float(right[index == b].mean()), int((index == b).sum()))
        for b in range(bins)
        if (index == b).any()
    ]
    return sum(n * abs(p - r) for p, r, n in table) / len(said), table
