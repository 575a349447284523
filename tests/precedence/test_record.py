"""Records and work orders: read as written, or refused with file, table, line and reason."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ribbonbar.errors import RecordError
from ribbonbar.precedence.model import Held
from ribbonbar.precedence.record import read_record
from tests.precedence.bars import CALDER_AWARDS, CALDER_ORDER, award, group, key, order, specification

POLICE = order(group("All", "listed", "calder/police-medal"), title="Order of wear, Calder police", id="police")
KNOWN = specification(
    [*CALDER_AWARDS, award("Soldiers’ Medal"), award("calder/police-medal"), award("Harbour Star", of="norland")],
    [CALDER_ORDER, POLICE],
)


def read(tmp_path, text, name="job.toml"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_record(path, KNOWN)


def refused(tmp_path, text):
    with pytest.raises(RecordError) as error:
        read(tmp_path, text)
    line = str(error.value)
    assert "\n" not in line
    assert all(c.isprintable() for c in line)
    assert line.startswith("job.toml")
    return line


def of(body):
    return f'format = "ribbon-record/1"\n{body}'


def test_whole_record(tmp_path):
    """Everything a record may say comes back as said, awards and order by their keys."""
    text = of("""
        reference = "job 1042"
        order_of_wear = "calder/calder-forces"
        rows = [["calder/valour-cross"], ["calder/harbour-star", "long service medal"]]

        [[held]]
        award = "calder/harbour-star"
        date = 1952-04-01
        division = "military"
        emblems = ["rosette"]

        [[held]]
        award = "Valour Cross"
    """)
    record = read(tmp_path, text)
    assert record.reference == "job 1042"
    assert record.order_of_wear == "calder/calder-forces"
    assert record.rows == ((key("Valour Cross"),), (key("Harbour Star"), key("Long Service Medal")))
    assert record.held == (
        Held(key("Harbour Star"), date(1952, 4, 1), "military", ("rosette",)),
        Held(key("Valour Cross")),
    )
    assert record.awards == (key("Harbour Star"), key("Valour Cross"), key("Long Service Medal"))


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("calder/cadet-medal", "calder/cadet-medal"),
        ("cadet-medal", "calder/cadet-medal"),
        ("CADET  medal", "calder/cadet-medal"),
        ("soldiers' medal", "calder/soldiers’-medal"),
        ("Soldiers’ Medal", "calder/soldiers’-medal"),
    ],
)
def test_names_as_a_person_writes_them(tmp_path, name, meant):
    """Key, id, or name as published, whatever the case, the spaces and the kind of apostrophe."""
    assert read(tmp_path, of(f'[[held]]\naward = "{name}"')).awards == (meant,)


def test_order_by_title(tmp_path):
    """The order of wear may be given by its id or title too."""
    for name in ("calder-forces", "order of wear, calder forces"):
        assert read(tmp_path, of(f'order_of_wear = "{name}"\n[[held]]\naward = "cadet-medal"')).order_of_wear == (
            "calder/calder-forces"
        )


def test_shared_name_is_settled_only_by_the_order(tmp_path):
    """A name that two awards share is refused, unless the record's order of wear lists only one of them."""
    line = refused(tmp_path, of('[[held]]\naward = "Harbour Star"'))
    assert "names more than one; give calder/harbour-star or norland/harbour-star" in line
    text = of('order_of_wear = "calder-forces"\n[[held]]\naward = "Harbour Star"')
    assert read(tmp_path, text).awards == (key("Harbour Star"),)


def test_nearly_right_name(tmp_path):
    """A name that nearly matches is refused with what was perhaps meant, never guessed."""
    line = refused(tmp_path, of('\n[[held]]\naward = "cadet-medal"\n\n[[held]]\naward = "Valor Cross"'))
    assert line == (
        "job.toml, [[held]] 2, line 7: “Valor Cross” is not an award of the specification: "
        "did you mean calder/valour-cross?"
    )
    assert "did you mean calder/golden-jubilee-medal?" in refused(tmp_path, of('[[held]]\naward = "Golden"'))
    assert "nothing has a name like it" in refused(tmp_path, of('[[held]]\naward = "zzzz"'))
    assert "did you mean calder/calder-forces" in refused(tmp_path, of('order_of_wear = "calder-force"'))


@pytest.mark.parametrize(
    ("body", "where", "what"),
    [
        ('[[held]]\ndate = 1952-04-01\naward = "cadet-medal"\nemblem = "x"', "[[held]] 1, line 5", "“emblem” is not"),
        ('[[held]]\naward = "cadet-medal"\n\n[[held]]\ndate = 1952-04-01', "[[held]] 2, line 5", "names no award"),
        ('[[held]]\naward = "cadet-medal"\ndate = "1952-04-01"', "[[held]] 1, line 4", "without quotes"),
        ('[[held]]\naward = "cadet-medal"\ndate = 1952-04-01T00:00:00', "line 4", "is not a date"),
        ('[[held]]\naward = "cadet-medal"\ndate = nan', "line 4", "“nan” is not a date"),
        ('[[held]]\naward = "cadet-medal"\ndate = 1952', "line 4", "“1952” is not a date"),
        ('[[held]]\naward = "cadet-medal"\ndate = []', "line 4", "a list is not a date"),
        ('[[held]]\naward = "cadet-medal"\ndate = 0x' + "f" * 9000, "line 4", "a very large number is not a date"),
        ('[[held]]\naward = "cadet-medal"\nemblems = "rosette"', "line 4", "a list of names"),
        ('[[held]]\naward = "cadet-medal"\nemblems = ["a\\u0007"]', "line 4", "control character"),
        ('[[held]]\naward = "cadet-medal"\ndivision = 7', "line 4", "a text in quotes"),
        ("[[held]]\naward = true", "line 3", "a text in quotes"),
        ('[[held]]\naward = "\\u001b[2Jmedal"', "line 3", "control character"),
        ('[[held]]\naward = "\\u202emedal"', "line 3", "control character"),
        ('[[held]]\naward = "\\U0010ffffmedal"', "line 3", "control character"),
        ('reference = "job \\ue0001042"', "line 2", "control character"),
        ('reference = "job\\u00ad1042"', "line 2", "control character"),
        ('[[held]]\naward = "   "', "line 3", "is not the name of an award"),
        (f'[[held]]\naward = "{"a" * 10_000}"', "line 3", "is not the name of an award"),
        ('held = [{ award = "cadet-medal" }, { award = "cadett-medal" }]', "[[held]] 2, line 2", "did you mean"),
        ("held = 3", "line 2", "write [[held]]"),
        ("held = [1]", "line 2", "write [[held]]"),
        ("[held]\naward = 'x'", "line 2", "write [[held]]"),
        ('rows = "a"', "line 2", "lists of awards"),
        ("rows = [[]]", "line 2", "lists of awards"),
        ("rows = [[1]]", "line 2", "lists of awards"),
        ('rows = ["cadet-medal"]', "line 2", "lists of awards"),
        ('rows = [["cadet-medal", "cadett-medal"]]', "line 2", "did you mean calder/cadet-medal"),
        ('refrence = "x"', "line 2", "known are format, reference, order_of_wear, rows, held"),
        ("reference = 3", "line 2", "a text in quotes"),
        ('reference = "job\\n2"', "line 2", "control character"),
        ("", "job.toml: ", "it names no award"),
        ("[[held]]\naward =", "line 3", "not valid TOML"),
        ('a = "unclosed', "line 2", "not valid TOML"),
        ("[[held", "job.toml", "not valid TOML"),
        ("x = " + "[" * 3000, "job.toml", "nests too deeply"),
        (".".join(["a"] * 5000) + " = 1", "job.toml", "nests too deeply"),
        ("x = " + "9" * 5000, "job.toml", "not valid TOML"),
        ("date = 2020-13-45", "line 2", "not valid TOML"),
        ('[[held]]\naward = "cadet-medal"\n' * 501, "line 1002", "more than 500 awards"),
        ("rows = [[" + '"cadet-medal", ' * 501 + "]]", "line 2", "more than 500 awards"),
    ],
)
def test_faulty_record_is_refused(tmp_path, body, where, what):
    """Each fault is one line with its place, what is wrong and how to mend it."""
    line = refused(tmp_path, of(body))
    assert where in line
    assert what in line


def test_format_line(tmp_path):
    """A file that does not say it is a record is none."""
    assert "there is no format line" in refused(tmp_path, '[[held]]\naward = "cadet-medal"')
    assert "the format is “ribbon-spec/1”" in refused(tmp_path, 'format = "ribbon-spec/1"')
    assert "line 2" in refused(tmp_path, '\nformat = "ribbon-spec/1"')
    assert "the format is a very large number" in refused(tmp_path, f"format = 0x{'f' * 9000}")


def test_files_that_are_no_text(tmp_path):
    """Pictures, folders, missing and huge files are refused, and the place of a bad byte is told."""
    assert "is not UTF-8 text" in refused(tmp_path, b"\x89PNG\r\n\x1a\n\0\0")
    assert "line 2" in refused(tmp_path, b'format = "x"\n\xff')
    assert "larger than 1 MB" in refused(tmp_path, b"#" * 1_000_001)
    assert "not valid TOML" in refused(tmp_path, b"\0\0\0")
    for path in (tmp_path, tmp_path / "none.toml", Path("a\0b.toml"), tmp_path / ("x" * 5000)):
        with pytest.raises(RecordError):
            read_record(path, KNOWN)


def test_name_of_the_file_cannot_steer_the_terminal(tmp_path):
    """A file's name is shown without its control characters."""
    with pytest.raises(RecordError) as error:
        read(tmp_path, "x", name="\x1b[2Jjob.toml")
    assert "\x1b" not in str(error.value)


def test_saved_by_a_windows_editor(tmp_path):
    """A byte order mark and carriage returns do no harm."""
    text = b"\xef\xbb\xbf" + of('[[held]]\naward = "cadet-medal"\n').replace("\n", "\r\n").encode()
    assert read(tmp_path, text).awards == ("calder/cadet-medal",)


PIECES = (
    *('format = "ribbon-record/1"', "[[held]]", 'award = "cadet-medal"', "date = 1952-04-01", "held = []"),
    *("rows = [[]]", 'rows = [["cadet-medal"]]', 'reference = "x"', 'emblems = ["rosette"]', "division", "a.b.c"),
    *("=", "[", "]", "{", "}", ",", '"', "'''", "#", "nan", "-inf", "1e999", "\\u0000", "\x00", "\x1b", "é", "🎖"),
)
texts = st.lists(st.sampled_from(PIECES), max_size=30).map(lambda pieces: "\n".join(pieces).encode())


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.binary(max_size=200), texts))
def test_nothing_but_a_record_error_is_raised(tmp_path, data):
    """Whatever the bytes, a file is a record or refused in one line."""
    try:
        read(tmp_path, data)
    except RecordError as error:
        assert str(error).startswith("job.toml")
        assert str(error).isprintable()
