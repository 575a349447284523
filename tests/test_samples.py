"""The sample photographs and what is true of them: the audit must say just that.

The pictures come from the project's own simulator and show an invented country's ribbons; the truth files beside them
say what is on each. `tests/simulator/samples.py` makes both.
"""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from ribbonbar.audit import AuditOptions, Catalogue, audit_file, load_catalogue
from ribbonbar.precedence.record import read_record
from ribbonbar.report.model import Report

ROOT = Path(__file__).resolve().parents[1]
SAMPLES = ROOT / "sample_images"
NAMES = sorted(path.stem for path in SAMPLES.glob("*.json"))


@cache
def catalogue() -> Catalogue:
    return load_catalogue([ROOT / "ribbon_specs" / "lorrandy.toml"])


@cache
def truth(name: str) -> dict:
    return json.loads((SAMPLES / f"{name}.json").read_text(encoding="utf-8"))


@cache
def report(name: str) -> Report:
    return audit_file(SAMPLES / f"{name}.jpg", catalogue(), AuditOptions(order=truth(name)["order_of_wear"]))


def with_file(name: str, option: str, file: str) -> Report:
    record = read_record(SAMPLES / file, catalogue().specification)
    options = AuditOptions(order=truth(name)["order_of_wear"], **{option: record})
    return audit_file(SAMPLES / f"{name}.jpg", catalogue(), options)


def kinds(of: Report) -> set[str]:
    return {finding.kind for finding in of.findings}


@pytest.mark.parametrize("name", NAMES)
def test_the_outcome_is_the_true_one(name: str):
    """The outcome is the true one; in order but for a ribbon back to front may also be called out of order."""
    allowed = {truth(name)["outcome"]}
    if truth(name)["any_reversed"]:
        allowed.add("out-of-order")
    assert report(name).outcome in allowed


@pytest.mark.parametrize("name", NAMES)
def test_there_is_one_bar_with_the_true_rows(name: str):
    """Every sample shows one bar, and each of its rows has as many ribbons as it has."""
    (bar,) = report(name).bars
    assert [len(row) for row in bar.rows] == truth(name)["bars"][0]["row_lengths"]


@pytest.mark.parametrize("name", NAMES)
def test_every_ribbon_is_named_rightly(name: str):
    """A known ribbon is identified, a shared one ambiguous with every award named, a strange one unidentified."""
    (bar,) = report(name).bars
    seen = {position.position: position for row in bar.rows for position in row}
    for ribbon in truth(name)["bars"][0]["ribbons"]:
        position = seen[ribbon["position"]]
        where = f"{name} {ribbon['position']}"
        if ribbon["unknown"]:
            assert position.status == "unidentified", where
        elif ribbon["also"]:
            assert position.status == "ambiguous", where
            assert {ribbon["award"], *ribbon["also"]} <= {c.award for c in position.candidates}, where
        else:
            assert (position.status, position.candidates[0].award) == ("identified", ribbon["award"]), where


@pytest.mark.parametrize("name", [n for n in NAMES if truth(n)["out_of_place"] != [[]]])
def test_the_fewest_ribbons_are_to_be_moved(name: str):
    """Out of order: what the report wants moved is one of the smallest sets that put the bar right."""
    assert sorted(report(name).to_move) in truth(name)["out_of_place"]


def test_a_ribbon_mounted_back_to_front_is_found():
    """An asymmetric ribbon turned round is reported at its position, and no other ribbon is."""
    turned = [r["position"] for r in truth("reversed")["bars"][0]["ribbons"] if r["reversed"]]
    assert [list(f.positions) for f in report("reversed").findings if f.kind == "reversed"] == [turned]


@pytest.mark.parametrize(("name", "kind"), [("mirrored", "mirrored-photo"), ("upside-down", "upside-down")])
def test_a_picture_turned_over_accuses_nobody(name: str, kind: str):
    """A mirrored or upside-down picture is said to be one; no ribbon is called reversed or out of place for it."""
    assert kind in kinds(report(name))
    assert not kinds(report(name)) & {"reversed", "out-of-place"}
    assert all(finding.severity != "error" for finding in report(name).findings)


def test_emblems_are_seen_where_they_are():
    """Every ribbon of the sample carries an emblem, and each is reported."""
    (bar,) = report("emblems").bars
    seen = {position.position for row in bar.rows for position in row if position.emblems}
    assert seen == {r["position"] for r in truth("emblems")["bars"][0]["ribbons"] if r["emblems"]}


def test_two_open_campaigns_need_the_wearers_dates():
    """Two campaign medals whose qualifying days overlap: the report asks for dates instead of guessing."""
    (finding,) = [f for f in report("dates-needed").findings if f.kind == "dates-needed"]
    assert finding.positions == ("1.2", "1.3")


def test_the_wearers_record_settles_the_sequence():
    """With the record's dates the same bar is in order."""
    assert with_file("dates-needed", "record", "record.toml").outcome == "in-order"


def test_the_work_order_shows_what_was_swapped():
    """Against the work order, the finished bar's two swapped ribbons are named."""
    found = with_file("finished-bar", "work_order", "work-order.toml")
    (swapped,) = [f for f in found.findings if f.kind == "swapped"]
    assert set(swapped.positions) == {"1.3", "2.1"}
    assert found.outcome == "out-of-order"


def test_every_sample_has_its_line_in_the_table():
    """The folder's README names every file in it."""
    table = (SAMPLES / "README.md").read_text(encoding="utf-8")
    missing = [p.name for p in SAMPLES.iterdir() if p.suffix in (".jpg", ".toml") and f"`{p.name}`" not in table]
    assert missing == []


@pytest.mark.parametrize(("align", "expected"), [("centre", False), ("senior", True)])
def test_where_a_short_row_stands_is_measured_on_the_picture(align: str, expected: bool):
    """The upper row of `two-rows` stands in the middle: right where the order wants that, else a warning."""
    key = truth("two-rows")["order_of_wear"]
    ours = catalogue().specification
    order = replace(ours.orders[key], short_row_align=align)
    other = replace(catalogue(), specification=replace(ours, orders=ours.orders | {key: order}))
    found = audit_file(SAMPLES / "two-rows.jpg", other, AuditOptions(order=key))
    assert ("row-layout" in kinds(found)) == expected
    assert found.outcome == "in-order"
