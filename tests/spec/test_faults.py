"""Given a file with this fault, expect this report at this line."""

from pathlib import Path

import pytest

from ribbonbar.errors import SpecError
from ribbonbar.spec.faults import Fault
from ribbonbar.spec.reader import check, read_specification
from tests.spec.small import SMALL, line_of


def faults_of(tmp_path: Path, text: str) -> tuple[Fault, ...]:
    file = tmp_path / "calder.toml"
    file.write_text(text, encoding="utf-8")
    return check([file])


def test_a_sound_file_has_no_fault(tmp_path: Path) -> None:
    """The file that all these tests break is sound before they do."""
    assert faults_of(tmp_path, SMALL) == ()


CROSS, FORCES, GALLANTRY = "ribbon valour-cross/standard", "order of wear forces", "group forces/gallantry"
BOTH = '["harbour-star", "strait-medal"]\nbecause'
CAMPAIGN = '["harbour-star", "strait-medal"]\n\n'

# (what is written, what is written instead, table, part of the line the fault is on, what it says)
CASES = [
    ('"ribbon-spec/1"', '"ribbon-spec/9"', "", "format", 'unknown format "ribbon-spec/9"'),
    ('format = "ribbon-spec/1"', "", "", "", "has no format line"),
    ('id = "calder"\n', "", "authority", "[authority]", "has no id"),
    ('title = "Calder (invented)"\n', "", "authority", "[authority]", "has no title"),
    ('[authority]\nid = "calder"\ntitle = "Calder (invented)"\n', "", "", "", "has no [authority] table"),
    ("ribbon_width_mm = 32.0", "ribbon_width_mm = -32.0", "authority", "-32.0", "must lie between 5 and 150"),
    ("ribbon_width_mm = 32.0", "ribbon_width_mm = nan", "authority", "nan", "must be a number"),
    ("ribbon_height_mm = 10.0", "ribbon_height_mm = inf", "authority", "inf", "must be a number"),
    ("ribbon_height_mm = 10.0", "ribbon_height_mm = 1_000", "authority", "1_000", "must lie between 3 and 60"),
    ("ribbon_width_mm = 32.0", 'ribbon_width_mm = "32"', "authority", '"32"', "must be a number"),
    ("ribbon_width_mm = 32.0", "ribbon_width_mm = true", "authority", "true", "must be a number"),
    ("ribbon_width_mm = 32.0", "ribon_width_mm = 32.0", "authority", "ribon", 'did you mean "ribbon_width_mm"?'),
    ('id = "calder-1"', 'id = "Calder 1"', "source 1", "Calder 1", "ids are kebab-case"),
    ('title = "Calder dress regulations, part 3 (invented)"', "", "source calder-1", "[[source]]", "has no title"),
    ("[colours]", '[[source]]\nid = "calder-1"\ntitle = "other"\n\n[colours]', "source calder-1", "", "repeats the id"),
    ('part 3 (invented)"', 'part 3"\nurl = "javascript:x"', "source calder-1", "javascript", "is no web address"),
    ('"#1b2440"', '"#1b244"', "colour navy", "#1b244", "six hexadecimal digits"),
    ('"#1b2440"', '"1b2440"', "colour navy", "1b2440", "six hexadecimal digits"),
    ('srgb = "#1b2440"', "srgb = 7", "colour navy", "srgb = 7", "must be a text"),
    ('srgb = "#1b2440", ', "", "colour navy", "navy =", "needs either srgb or lab"),
    ('srgb = "#1b2440"', 'srgb = "#1b2440", lab = [1, 2, 3]', "colour navy", "navy =", "needs either srgb or lab"),
    ("[42.0, 58.0, 34.0]", "[142.0, 58.0, 34.0]", "colour red", "142", "lab is out of range"),
    ("[42.0, 58.0, 34.0]", "[42.0, 58.0]", "colour red", "red =", "lab is not three numbers"),
    ("[42.0, 58.0, 34.0]", "[42.0, 58.0, inf]", "colour red", "red =", "lab is not three numbers"),
    ('certainty = "memory" }', 'certainty = "sure" }', "colour navy", "sure", "must be one of stated, derived, memory"),
    (', certainty = "memory" }', " }", "colour navy", "navy =", "has no certainty"),
    ('"stated", source = "calder-1" }', '"stated" }', "colour white", "white =", "stated but names no source"),
    ('"stated", source = "calder-1"', '"stated", source = "calder-2"', "colour white", "calder-2", "unknown source"),
    ("navy = {", "Navy = {", "colours", "Navy =", "ids are kebab-case"),
    ("navy = {", "navy = 3 #{", "colours", "navy =", "must be a table"),
    ('id = "valour-cross"', 'id = "../valour"', "award 1", "../valour", "ids are kebab-case"),
    ('id = "valour-cross"', 'id = "<b>valour</b>"', "award 1", "<b>", "ids are kebab-case"),
    ('id = "valour-cross"\n', "", "award 1", "[[award]]", "has no id"),
    ('id = "strait-medal"', 'id = "harbour-star"', "award harbour-star", "", "first given at"),
    ('name = "Valour Cross"\n', "", "award valour-cross", "[[award]]", "has no name"),
    ('name = "Valour Cross"', 'name = "Valour\\u001b[2J"', "award valour-cross", "u001b", "control character U+001B"),
    ('name = "Valour Cross"', 'name = "Valour\\u202eX"', "award valour-cross", "202e", "control character U+202E"),
    ('name = "Valour Cross"', 'name = "  "', "award valour-cross", '"  "', "name is empty"),
    ('name = "Valour Cross"', f'name = "{"V" * 300}"', "award valour-cross", "VVV", "longer than 200"),
    ('abbreviation = "HS"', 'abreviation = "HS"', "award harbour-star", "abrev", 'did you mean "abbreviation"?'),
    ("to = 1954-10-31", "to = 1950-10-31", "award harbour-star", "1950", "before it begins on 1951-03-01"),
    ("to = 1954-10-31", 'to = "1954"', "award harbour-star", '"1954"', "must be a day without quotes"),
    ("to = 1954-10-31", "to = 1954-10-31T10:00:00", "award harbour-star", "T10", "must be a day without quotes"),
    ("{ from = 1951-03-01, to = 1954-10-31 }", "{}", "award harbour-star", "earned = {}", "names no day"),
    ('to = 1954-10-31 }', 'certainty = "stated" }', "award harbour-star", "earned", "stated but names no source"),
    ('kind = "rosette", ', "", "award harbour-star emblem 1", "metal", "has no kind"),
    ('[ { kind = "rosette"', '[ 3, { kind = "rosette"', "award harbour-star", "emblems", "emblems holds 3"),
    ('stripes = [["red", 38]]', "", CROSS, "[[award.ribbon]]", "gives no pattern"),
    ('stripes = [["red", 38]]', "stripes = []", CROSS, "stripes", "stripes is empty"),
    ('[["red", 38]]', '[["rad", 38]]', CROSS, '"rad"', 'unknown colour "rad"; did you mean "red"?'),
    ('[["red", 38]]', '[["red"]]', CROSS, '["red"]', "stripe 1 is malformed"),
    ('[["red", 38]]', '[["red", 0]]', CROSS, ", 0", "stripe 1's width is 0"),
    ('[["red", 38]]', '[["red", -3]]', CROSS, "-3", "stripe 1's width is -3"),
    ('[["red", 38]]', '[["red", nan]]', CROSS, "nan", "stripe 1's width is nan"),
    ('[["red", 38]]', f'[["red", {10**400}]]', CROSS, "00", "a very large number"),
    ('[["red", 38]]', '[["red", 38], ["navy", 0.001]]', CROSS, "0.001", "narrower than a thread"),
    ("width_mm = 38.0", "width_mm = 3800", CROSS, "3800", "between 5 and 150"),
    ("width_mm = 38.0", 'frame = "gold"', CROSS, "gold", 'unknown colour "gold"'),
    ("width_mm = 38.0", 'unmatched = "why"', CROSS, "", "gives stripes and unmatched"),
    ('"red>white"', '"red>"', "ribbon harbour-star/standard", "red>", 'unknown colour ""'),
    ("angle = 45", "angle = 90", "ribbon strait-medal/standard", "angle", "angle 90 is not diagonal"),
    (", angle = 45", "", "ribbon strait-medal/standard", "diagonal", "has no angle"),
    ("angle = 45", "angel = 45", "ribbon strait-medal/standard", "angel", 'unknown key "angel"'),
    ('title = "Order of wear, Calder forces"\n', "", FORCES, "[[order_of_wear]]", "has no title"),
    ("ribbons_per_row = 4", "ribbons_per_row = 4.5", FORCES, "4.5", "must be a whole number"),
    ("ribbons_per_row = 4", "ribbons_per_row = 0", FORCES, "_row = 0", "between 1 and 12"),
    ("ribbons_per_row = 4", "rows_allowed = [3, 99]", FORCES, "99", "between 1 and 12"),
    ('short_row = "top"', 'short_row = "left"', FORCES, '"left"', "must be one of top, bottom"),
    ('short_row = "top"', "second_ribbon = 1", FORCES, "second_ribbon", "must be true or false"),
    ('short_row = "top"', 'short_row_align = "left"', FORCES, "left", "one of centre, senior, either"),
    ('short_row = "top"', "in_force = { from = 1990-01-01, to = 1980-01-01 }", FORCES, "1980", "before"),
    ('"top"\nsource = "calder-1"\n', '"top"\n', FORCES, "[[order_of_wear]]", "warning: names no source"),
    ('"by-date"', '"by-size"', "group forces/campaign", "by-size", "must be one of listed, by-date, by-award-date"),
    ('id = "campaign"', 'id = "gallantry"', GALLANTRY, "", 'repeats the id "gallantry"'),
    ('["valour-cross"]', "[]", GALLANTRY, "awards = []", "awards is empty"),
    ('["valour-cross"]', '["valor-cross"]', GALLANTRY, "valor-cross", 'did you mean "valour-cross"?'),
    ('["valour-cross"]', '["ruvia/star"]', GALLANTRY, "ruvia", 'no file given is of the authority "ruvia"'),
    ('["valour-cross"]', '["valour-cross", "ruvia/*"]', GALLANTRY, "ruvia", '"ruvia/*" stands for no award'),
    ('["valour-cross"]', '["valour-cross", "../x"]', GALLANTRY, "../x", "is no name"),
    ('["valour-cross"]', '["valour-cross", 7]', GALLANTRY, "7]", "must hold texts in quotes"),
    ('["valour-cross"]', '["valour-cross", "harbour-star"]', "group forces/campaign", CAMPAIGN[:20], "a second place"),
    (CAMPAIGN, '["harbour-star"]\n\n', "award strait-medal", "", "stands in no group"),
    ('"not-together"', '"never"', "rule 1", "never", "must be one of not-together, needs, listed-within"),
    (BOTH, '["harbour-star"]\nbecause', "rule 1", "", "binds fewer than two awards"),
    (BOTH, "[]\nbecause", "rule 1", "awards = []", "binds fewer than two awards"),
    (BOTH, '["harbour-star", "x"]\nbecause', "rule 1", '"x"', 'unknown award "x"'),
    ('"strait-medal"]\nbecause', '"harbour-star"]\nbecause', "rule 1", "", "names calder/harbour-star twice"),
    ('because = "the second is a clasp to the first"\n', "", "rule 1", "[[rule]]", "has no because"),
    ('because = "the', 'orders = ["navy"]\nbecause = "the', "rule 1", "orders", 'unknown order of wear "navy"'),
    ("[[rule]]", "[[rul]]", "", "[[rul]]", 'unknown key "rul"; did you mean "rule"?'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "table", "on", "says"), CASES, ids=[f"{c[1][:24]}-{c[4][:24]}" for c in CASES])
def test_one_fault(tmp_path: Path, old: str, new: str, table: str, on: str, says: str) -> None:
    """The fault is reported with its file, table and line; and the file is not used, unless it was a warning."""
    assert SMALL.count(old) >= 1
    text = SMALL.replace(old, new, 1)
    faults = [fault for fault in faults_of(tmp_path, text) if says in str(fault)]
    assert faults, [str(fault) for fault in faults_of(tmp_path, text)]
    assert faults[0].table == table
    assert str(faults[0]).startswith(str(tmp_path / "calder.toml"))
    assert "\n" not in str(faults[0])
    assert str(faults[0]).isprintable()
    if on:
        assert faults[0].line == line_of(text, on)
    if faults[0].severity == "error":
        with pytest.raises(SpecError):
            read_specification([tmp_path / "calder.toml"])
    else:
        read_specification([tmp_path / "calder.toml"])


def test_all_faults_of_a_file_are_found_at_once(tmp_path: Path) -> None:
    """Five unlike faults are five lines, in the order of the file; the error names the first and counts the rest."""
    text = (
        SMALL.replace("#1b2440", "#1b24")
        .replace('"Valour Cross"', '""')
        .replace("to = 1954", "to = 1944")
        .replace("angle = 45", "angle = 0")
        .replace('["valour-cross"]', '["valour-crass"]')
    )
    faults = [fault for fault in faults_of(tmp_path, text) if fault.severity == "error"]
    assert len(faults) == 5
    assert [fault.line for fault in faults] == sorted(fault.line for fault in faults)
    with pytest.raises(SpecError, match=r"colour navy:14: .* \(and 4 more: run ribbonbar spec check\)"):
        read_specification([tmp_path / "calder.toml"])


def test_one_bad_colour_is_one_fault(tmp_path: Path) -> None:
    """A colour with a fault is still known: the ribbons that use it are not reported as well."""
    assert len(faults_of(tmp_path, SMALL.replace("#1b2440", "navy blue"))) == 1


def test_contradicting_sequences_are_named_as_a_ring(tmp_path: Path) -> None:
    """Three fixed sequences that run in a ring are reported once, with the ring written out."""
    ring = [("a", "b"), ("b", "c"), ("c", "a")]
    awards = "".join(f'\n[[award]]\nid = "{name}"\nname = "{name}"\nworn_elsewhere = "cuff"\n' for name in "abc")
    rules = "".join(
        f'\n[[rule]]\nkind = "listed-within"\nawards = {list(pair)}\nbecause = "so ordered"\nsource = "calder-1"\n'
        for pair in ring
    )
    faults = faults_of(tmp_path, SMALL + awards + rules)
    assert [fault.what for fault in faults] == [
        "closes a ring: calder/a before calder/b before calder/c before calder/a"
    ]
    assert faults[0].table == "rule 4"


def test_sequences_of_different_orders_do_not_contradict(tmp_path: Path) -> None:
    """Two orders may fix opposite sequences: each rule says to which order it belongs."""
    second = SMALL[SMALL.index("[[order_of_wear]]") : SMALL.index("[[rule]]")].replace('"forces"', '"police"')
    head = '\n[[rule]]\nkind = "listed-within"\nbecause = "so ordered"\nsource = "calder-1"\n'
    rules = "".join(
        f'{head}awards = {awards}\norders = ["{order}"]\n'
        for awards, order in (
            (["harbour-star", "strait-medal"], "forces"),
            (["strait-medal", "harbour-star"], "police"),
        )
    )
    assert faults_of(tmp_path, SMALL + "\n" + second + rules) == ()
