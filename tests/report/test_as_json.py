"""The report as JSON, and reading it back from files that may have been tampered with."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ribbonbar.findings import Finding
from ribbonbar.report.as_json import ReportError, from_dict, from_json, from_lines, to_dict, to_json
from ribbonbar.report.model import CAUTIONS, Bar, Candidate, Photo, Position, Report, SeenEmblem


def test_the_report_has_the_keys_that_others_rely_on(out_of_order):
    """Scripts read the fields of ribbon-report/1 by these names."""
    data = json.loads(to_json(out_of_order))
    assert data["format"] == "ribbon-report/1"
    assert data["photo"] == {"name": "IMG_0412.jpg", "width": 1400, "height": 800, "sha256": "5f" * 32}
    assert (data["outcome"], data["order_of_wear"]) == ("out-of-order", "tarn/forces")
    place = data["bars"][0]["rows"][1][2]
    assert place["position"] == "2.3" and place["status"] == "identified"
    assert place["candidates"] == [
        {"award": "tarn/lamp-medal", "ribbon": "standard", "reversed": True, "probability": 0.97}
    ]
    assert [len(c) for c in place["corners"]] == [2, 2, 2, 2]
    finding = data["findings"][0]
    assert finding["kind"] == "out-of-place" and finding["positions"] == ["2.4"] and finding["severity"] == "error"
    assert finding["message"] and finding["because"] and finding["source"]
    assert data["proposed_order"][3] == "tarn/strait-medal"
    assert data["timing_ms"] == {"total": 412.0}
    assert data["bars"][0]["rows"][1][0]["emblems"] == [{"kind": "rosette", "x": 0.5, "y": 0.5, "size_mm": 8.0}]


def test_the_report_carries_its_cautions_and_what_it_rests_on(doubtful):
    """A reader of the bare JSON too learns that a photo proves no entitlement, and which files were used."""
    data = to_dict(doubtful)
    assert data["cautions"] == list(CAUTIONS)
    assert data["editions"] == ["tarn.toml 0123456789ab"]
    assert [p["given_by_hand"] for p in data["bars"][0]["rows"][0]] == [False, True]


@pytest.mark.parametrize("name", ["in_order", "out_of_order", "doubtful", "no_bar", "verified", "two_bars", "hostile"])
def test_a_report_survives_writing_and_reading(name, request):
    """What a resumed run reads back is what the first run found."""
    report = request.getfixturevalue(name)
    again = from_json(to_json(report))
    assert to_json(again) == to_json(report)
    assert (again.outcome, again.findings, again.photo) == (report.outcome, report.findings, report.photo)


def test_one_report_is_one_line_of_plain_ascii(hostile):
    """Line separators, escapes and odd letters in a name break neither JSON Lines nor the terminal."""
    text = to_json(replace(hostile, photo=replace(hostile.photo, name="\u2028\x1b[31m\udcff é.jpg")))
    assert text.isascii() and text.isprintable() and "\n" not in text
    assert from_json(text).photo.name == "\u2028\x1b[31m\udcff é.jpg"


def test_numbers_of_numpy_are_written_as_numbers(in_order):
    """The stages hand on numpy's own numbers."""
    place = in_order.bars[0].rows[0][0]
    best = replace(place.candidates[0], probability=np.float32(0.5))
    place = replace(place, candidates=(best,), corners=tuple(map(tuple, np.float32(place.corners))))
    report = replace(in_order, bars=(Bar(in_order.bars[0].corners, ((place,),)),))
    assert to_dict(from_json(to_json(report)))["bars"][0]["rows"][0][0]["candidates"][0]["probability"] == 0.5


def test_a_number_that_is_none_is_refused(in_order):
    """A probability that is not a number must not slip into a file."""
    report = replace(in_order, timing_ms={"total": float("nan")})
    with pytest.raises(ValueError):
        to_json(report)


def test_a_torn_last_line_costs_that_photo_only(in_order, doubtful):
    """A run that was stopped while writing leaves half a line; the reports before it count."""
    whole = to_json(in_order) + "\n" + to_json(doubtful)
    assert [r.outcome for r in from_lines(whole)] == ["in-order", "unconfirmed"]
    for cut in (10, len(to_json(doubtful)) // 2, 1):
        assert [r.outcome for r in from_lines(whole[:-cut])] == ["in-order"]
    with pytest.raises(ReportError, match="line 1"):
        from_lines("{\n" + whole)


def _changed(data, path, value):
    *way, last = path
    for step in way:
        data = data[step]
    if value is KeyError:
        del data[last]
    else:
        data[last] = value


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (["format"], "ribbon-report/9"),
        (["outcome"], "fine"),
        (["outcome"], ["in-order"]),
        (["photo"], []),
        (["photo", "name"], 5),
        (["photo", "name"], "x" * 5000),
        (["photo", "width"], -1),
        (["photo", "width"], True),
        (["photo", "sha256"], "<b>"),
        (["bars"], {}),
        (["bars", 0, "corners"], [[0, 0]]),
        (["bars", 0, "corners"], [[0, 0, 0]] * 4),
        (["bars", 0, "corners", 1], [1e300, 0]),
        (["bars", 0, "rows", 0], "1.1"),
        (["bars", 0, "rows", 0, 0, "position"], "1.1<script>"),
        (["bars", 0, "rows", 0, 0, "position"], "1.1\n"),
        (["bars", 0, "rows", 0, 0, "status"], None),
        (["bars", 0, "rows", 0, 0, "candidates", 0, "probability"], 1.5),
        (["bars", 0, "rows", 0, 0, "candidates", 0, "reversed"], 0),
        (["bars", 0, "rows", 0, 0, "candidates"], [{}] * 3000),
        (["bars", 0, "rows", 0, 0, "seen"], [[1, 2]]),
        (["findings", 0, "kind"], "rumour"),
        (["findings", 0, "positions"], [1]),
        (["findings", 0, "message"], KeyError),
        (["proposed_order"], "abc"),
        (["timing_ms"], {"total": "long"}),
    ],
)
def test_a_tampered_report_is_refused_with_its_place(out_of_order, path, value):
    """A report that was changed by hand is not believed; the error names the spot."""
    data = json.loads(to_json(out_of_order))
    _changed(data, path, value)
    with pytest.raises(ReportError) as caught:
        from_json(json.dumps(data), "many.jsonl: line 3")
    line = str(caught.value)
    assert line.startswith("many.jsonl: line 3") and "\n" not in line and len(line) < 400
    assert any(str(step) in line for step in path)


@pytest.mark.parametrize(
    "text", ["", "null", "[]", "[" * 100_000, "1e999", '{"format": NaN}', "9" * 5000, "\x00", b"\xff\xfe"]
)
def test_what_is_no_report_is_refused(text):
    """Empty, deep, endless and binary files get one line."""
    with pytest.raises(ReportError) as caught:
        from_json(text)
    assert "\n" not in str(caught.value)


_text = st.text(max_size=20)
_share = st.integers(0, 100).map(lambda n: n / 100)
_points = st.lists(
    st.tuples(st.integers(-9999, 9999).map(float), st.integers(-9999, 9999).map(float)), min_size=4, max_size=4
).map(tuple)
_positions = st.builds(
    Position,
    position=st.from_regex(r"[1-9]\.[1-9]", fullmatch=True),
    corners=_points,
    status=st.sampled_from(["identified", "ambiguous", "unidentified"]),
    candidates=st.lists(st.builds(Candidate, _text, _text, st.booleans(), _share), max_size=3).map(tuple),
    emblems=st.lists(
        st.builds(SeenEmblem, _text, _share, _share, _share.map(lambda n: round(10 * n, 1))), max_size=2
    ).map(tuple),
    given_by_hand=st.booleans(),
    seen=st.lists(st.tuples(*[st.integers(-99, 99).map(float)] * 3), max_size=3).map(tuple),
)
_rows = st.lists(st.lists(_positions, max_size=3).map(tuple), max_size=2).map(tuple)
_reports = st.builds(
    Report,
    photo=st.builds(Photo, _text, st.integers(0, 9999), st.integers(0, 9999), st.just("ab" * 32)),
    outcome=st.sampled_from(["in-order", "out-of-order", "unconfirmed", "no-bar"]),
    order_of_wear=_text,
    bars=st.lists(st.builds(Bar, _points, _rows), max_size=2).map(tuple),
    findings=st.lists(
        st.builds(
            Finding,
            st.sampled_from(["reversed", "missing"]),
            st.lists(_text, max_size=2).map(tuple),
            st.sampled_from(["error", "note"]),
            _text,
            _text,
            _text,
        ),
        max_size=2,
    ).map(tuple),
    proposed_order=st.lists(_text, max_size=3).map(tuple),
    timing_ms=st.dictionaries(_text, st.integers(0, 9999).map(float), max_size=2),
    editions=st.lists(_text, max_size=2).map(tuple),
    work_order=_text,
    proposed_positions=st.lists(_text, max_size=3).map(tuple),
    to_move=st.lists(_text, max_size=3).map(tuple),
)


@settings(max_examples=60, deadline=None)
@given(_reports)
def test_any_report_comes_back_the_same(report):
    """Writing and reading lose nothing, whatever stands in the texts."""
    assert from_json(to_json(report)) == report


_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | _text,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_text, inner, max_size=4),
    max_leaves=12,
)
_KEYS = [
    "photo",
    "outcome",
    "bars",
    "findings",
    "proposed_order",
    "timing_ms",
    "editions",
    "order_of_wear",
    "work_order",
]


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.sampled_from(_KEYS), _values), _values)
def test_only_our_own_error_comes_out_of_any_file(changes, whole):
    """Whatever a file holds, the answer is a report or one clear line."""
    good = {
        "format": "ribbon-report/1",
        "photo": {"name": "a", "width": 1, "height": 1, "sha256": ""},
        "outcome": "no-bar",
    }
    for data in (good | {"bars": []} | changes, whole):
        try:
            from_dict(data)
        except ReportError as error:
            assert "\n" not in str(error)
