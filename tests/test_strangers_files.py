"""Specifications, records and work orders from strangers, all the way to what is said of a bar.

Where ``tests/spec/test_hostile.py`` asks the reader alone, files here are mostly sound, so that the reasoning is
reached. ``RIBBONBAR_FUZZ_RUNS`` raises the number of files.
"""

import contextlib
import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ribbonbar.errors import RecordError, RibbonbarError
from ribbonbar.findings import Finding
from ribbonbar.plan.as_json import to_json
from ribbonbar.plan.bar import plan_bar
from ribbonbar.plan.cutting import cutting_list, to_csv
from ribbonbar.plan.text import to_text
from ribbonbar.precedence.explain import as_text, explain_named
from ribbonbar.precedence.model import Record, Slot
from ribbonbar.precedence.record import read_record
from ribbonbar.precedence.which_order import choose_order, judge_chosen
from ribbonbar.precedence.work_order import compare, emblem_findings
from ribbonbar.spec.model import Specification
from ribbonbar.spec.reader import read_specification
from tests.spec.small import SMALL

RUNS = int(os.environ.get("RIBBONBAR_FUZZ_RUNS", "80"))
fuzz = settings(max_examples=RUNS, deadline=None, suppress_health_check=list(HealthCheck))

RECORD = """\
format = "ribbon-record/1"
reference = "job 1042"
order_of_wear = "calder/forces"
rows = [["calder/valour-cross"], ["Harbour Star", "strait-medal"]]

[[held]]
award = "calder/valour-cross"

[[held]]
award = "HS"
date = 1952-04-01
division = "military"
emblems = ["rosette", "rosette"]

[[held]]
award = "Strait Medal"
date = 1955-06-30
"""
PIECES = (
    *("calder/", "valour-cross", "Harbour Star", "strait medal", "calder/forces", "job 1042", "rosette", "military"),
    *("1952-04-01", "0001-01-01", "9999-12-31", "1952-04-01T00:00:00Z", "12:30:00", "nan", "-1", "1e400", "0x10"),
    *('"', "'", '"""', "[", "]", "[[", "]]", "{", "}", "=", ",", ".", "#", "\n", " ", "\\", "\\u0000", "\\U0010ffff"),
    *("award", "date", "held", "rows", "emblems", "division", "reference", "format", "[[held]]\n", "true", "[]", "{}"),
    *(
        "\0",
        "\x1b[2J",
        "../../etc/passwd",
        "<b>",
        "=1+1",
        "\u202e",
        "\u00df",
        "\u0130",
        "\u2126",
        "x" * 300,
        "{0}",
        "%s",
    ),
)
TITLES = st.sampled_from(
    (
        *("Medal", "=cmd|' /C calc'!A0", "<script>x</script>", "{0.__class__}", "{{ 7 * 7 }}", "%s%n", "../../x"),
        "\u00df\u0130",
    )
)
IDS = tuple(f"m{n}" for n in range(6))
DAYS = st.dates().map(str)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("strangers")


@pytest.fixture(scope="module")
def small(folder: Path) -> Specification:
    (folder / "small.toml").write_text(SMALL, encoding="utf-8")
    return read_specification([folder / "small.toml"])


def asked(specification: Specification, record: Record, seen: tuple[tuple[str, ...], ...]) -> None:
    """Everything that is ever asked of a record and a bar: an answer or the package's own error, each on one line."""
    rows = tuple(
        tuple(Slot(f"{r}.{p}", tuple(sorted(specification.awards)[: int(n)])) for p, n in enumerate(row, 1))
        for r, row in enumerate(seen, 1)
    )
    awards = [award for row in rows for slot in row for award in slot.awards]
    try:
        choice = choose_order([*awards, *record.awards], specification, record.order_of_wear)
        order = specification.orders[choice.key]
        for given in (record, None):
            of_one_line(judge_chosen(rows, specification, choice, given).findings)
        of_one_line(compare(rows, record, specification, order))
        of_one_line(emblem_findings(rows, {"1.1": ("rosette",)}, record, specification))
        for first, second in zip(record.awards, record.awards[1:], strict=False):
            as_text(explain_named(first, second, specification, order.key, record), specification)
        bar = plan_bar(record, specification)
        assert to_text(bar).replace("\n", "").isprintable()
        to_json(bar, 1)
        to_csv(cutting_list([bar], 10.0))
    except RibbonbarError as error:
        assert str(error).isprintable()


def of_one_line(findings: tuple[Finding, ...]) -> None:
    for finding in findings:
        assert f"{finding.message}{finding.because}{finding.source}".isprintable()


SEEN = st.lists(st.text(alphabet="0123", min_size=0, max_size=4).map(tuple), max_size=3).map(tuple)


def use(file: Path, specification: Specification, seen: tuple) -> None:
    """Read a record and ask everything of it, or expect its one line."""
    with contextlib.suppress(RecordError):
        try:
            record = read_record(file, specification)
        except RecordError as error:
            assert str(error).isprintable()
            assert len(str(error)) < 2000
            raise
        asked(specification, record, seen)


@fuzz
@given(places=st.lists(st.tuples(st.integers(0, len(RECORD)), st.integers(0, 30), st.sampled_from(PIECES))), seen=SEEN)
def test_a_sound_record_with_parts_replaced(folder: Path, small: Specification, places: list, seen: tuple) -> None:
    """Pieces cut out of a record or work order, and hostile ones put in."""
    text = RECORD
    for start, length, new in places:
        text = text[:start] + new + text[start + length :]
    (folder / "record.toml").write_text(text, encoding="utf-8", newline="")
    use(folder / "record.toml", small, seen)


HELD = st.fixed_dictionaries(
    {"award": st.sampled_from(("valour-cross", "HS", "Strait Medal"))},
    optional={
        "date": DAYS,
        "division": st.text(alphabet=st.characters(exclude_categories=("Cs", "Cc")), max_size=5),
        "emblems": st.lists(st.sampled_from(("rosette", "star", "=x")), max_size=4),
    },
)


def written(held: list[dict], rows: list[list[str]]) -> str:
    def value(key: str, what: object) -> str:
        if key == "date":
            return str(what)
        return f"[{', '.join(map(quoted, what))}]" if isinstance(what, list) else quoted(what)

    lines = ['format = "ribbon-record/1"']
    if rows:
        lines.append(f"rows = [{', '.join('[' + ', '.join(map(quoted, row)) + ']' for row in rows)}]")
    for table in held:
        lines += ["[[held]]", *(f"{key} = {value(key, what)}" for key, what in table.items())]
    return "\n".join(lines)


def quoted(text: str) -> str:
    return '"' + "".join(c if c.isalnum() and c.isascii() else f"\\U{ord(c):08x}" for c in text) + '"'


@fuzz
@given(
    st.lists(HELD, max_size=6),
    st.lists(st.lists(st.sampled_from(("valour-cross", "HS", "strait-medal")), min_size=1, max_size=3), max_size=3),
    SEEN,
)
def test_records_that_are_sound_but_say_odd_things(
    folder: Path, small: Specification, held: list[dict], rows: list[list[str]], seen: tuple
) -> None:
    """Dates of any century, awards held many times, emblems nobody knows, rows that repeat."""
    (folder / "odd.toml").write_text(written(held, rows), encoding="utf-8")
    use(folder / "odd.toml", small, seen)


@st.composite
def specifications(draw: st.DrawFn) -> str:
    """The text of a specification whose tables are well formed and whose orders and rules may be anything."""
    title = draw(TITLES)
    ids = IDS[: draw(st.integers(1, len(IDS)))]
    lines = ['format = "ribbon-spec/1"', f'[authority]\nid = "x"\ntitle = {quoted(title)}']
    lines.append("[colours]\nnavy = { srgb = '#1b2440', certainty = 'memory' }")
    for one in ids:
        lines.append(f'[[award]]\nid = "{one}"\nname = {quoted(f"{title} {one}")}')
        start, end = draw(st.none() | DAYS), draw(st.none() | DAYS)
        if start and end and draw(st.integers(0, 9)):
            start, end = sorted((start, end))
        if start or end:
            ends = (f"{key} = {day}" for key, day in (("from", start), ("to", end)) if day)
            lines.append(f"earned = {{ {', '.join(ends)} }}")
        if draw(st.integers(0, 5)) == 0:
            lines.append(f"worn_elsewhere = {quoted(title)}")
        lines.append('[[award.ribbon]]\nid = "r"\nstripes = [["navy", 1]]\ncertainty = "memory"')
    for number in range(draw(st.integers(0, 2))):
        lines.append(f'[[order_of_wear]]\nid = "o{number}"\ntitle = {quoted(title)}')
        lines.append(f"second_ribbon = {draw(st.sampled_from(('true', 'false')))}")
        lines.append(f"ribbons_per_row = {draw(st.integers(1, 5))}")
        left = draw(st.permutations(ids))
        while left:
            count = draw(st.integers(1, len(left)))
            sequence = draw(st.sampled_from(("listed", "by-date", "by-award-date")))
            lines.append(f'[[order_of_wear.group]]\nid = "g{len(left)}"\ntitle = "G"\nsequence = "{sequence}"')
            lines.append(f"awards = [{', '.join(map(quoted, left[:count]))}]")
            left = left[count:]
    for _ in range(draw(st.integers(0, 3))):
        sound = draw(st.integers(0, 9)) and len(ids) > 1
        several = st.lists(st.sampled_from(ids), min_size=2 if sound else 1, max_size=4, unique=bool(sound))
        kind = draw(st.sampled_from(("not-together", "needs", "listed-within")))
        awards = ", ".join(map(quoted, draw(several)))
        lines.append(f'[[rule]]\nkind = "{kind}"\nbecause = {quoted(title)}\nawards = [{awards}]')
    return "\n".join(lines)


@fuzz
@given(text=specifications(), seen=SEEN, dates=st.lists(st.none() | st.dates(), min_size=6, max_size=6))
def test_any_orders_and_rules_can_be_reasoned_with(folder: Path, text: str, seen: tuple, dates: list) -> None:
    """Orders that overlap, rules in circles, periods that end before they begin: a verdict and a plan, or one line."""
    (folder / "made.toml").write_text(text, encoding="utf-8")
    with contextlib.suppress(RibbonbarError):
        specification = read_specification([folder / "made.toml"])
        awards = sorted(specification.awards)
        held = [
            f'[[held]]\naward = "{a}"' + (f"\ndate = {d}" if d else "") for a, d in zip(awards, dates, strict=False)
        ]
        (folder / "made-record.toml").write_text('format = "ribbon-record/1"\n' + "\n".join(held), encoding="utf-8")
        asked(specification, read_record(folder / "made-record.toml", specification), seen)
