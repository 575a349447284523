"""Files from strangers: whatever they hold, there is a line to read and no other exception."""

import contextlib
import os
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ribbonbar.errors import SpecError
from ribbonbar.spec import document
from ribbonbar.spec.reader import check, read_specification
from tests.spec.small import SMALL

RUNS = int(os.environ.get("RIBBONBAR_FUZZ_RUNS", "150"))
"""Generated files for each test; the closing runs set it to many thousands."""
fuzz = settings(max_examples=RUNS, deadline=None, suppress_health_check=list(HealthCheck))

HEAD = b'format = "ribbon-spec/1"\n[authority]\nid = "x"\ntitle = "x"\n'
NASTY = st.sampled_from(
    [
        *("\0", "\x1b[2J", "../../etc/passwd", "<script>x</script>", "=1+1", "\u202e", "\ud7ff", "9" * 5000),
        *(
            '"',
            "'",
            '"""',
            "[",
            "]]",
            "{",
            "}",
            "\n",
            "#",
            "*",
            "x/*",
            ">",
            "a.b.c",
            "=",
            "= true",
            "= {}",
            "= []",
            "id",
        ),
        *("nan", "inf", "-1", "1e400", "9999-99-99", "1951-03-01"),
        *("[[award]]\n", "[[award.ribbon]]\n", "[[order_of_wear]]\n", "[[rule]]\n", "[colours]\n"),
    ]
)
TABLES = st.sampled_from(
    [
        *("[[source]]", "[[award]]", "[[award]]\n[[award.ribbon]]"),
        *("[[order_of_wear]]", "[[order_of_wear]]\n[[order_of_wear.group]]", "[[rule]]"),
    ]
)
KEYS = sorted({line.split("=")[0].strip() for line in SMALL.splitlines() if "=" in line and "{" not in line})
VALUES = st.recursive(
    st.one_of(st.integers(), st.floats(), st.booleans(), st.text(max_size=20), st.dates(), st.sampled_from(KEYS)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.sampled_from([*KEYS, "from", "to"]), inner, max_size=4)
    ),
    max_leaves=12,
)


def use(file: Path) -> None:
    """Check and read a file: every fault is one harmless line, and reading fails exactly when there is an error."""
    faults = check([file])
    for fault in faults:
        assert str(fault).isprintable()
        assert len(str(fault)) < 2000
    broken = any(fault.severity == "error" for fault in faults)
    with pytest.raises(SpecError) if broken else contextlib.nullcontext():
        read_specification([file])


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("hostile") / "hostile.toml"


@fuzz
@given(data=st.binary(max_size=300), head=st.sampled_from([b"", HEAD]))
def test_any_bytes(file: Path, data: bytes, head: bytes) -> None:
    """Bytes that are no text, alone and after a sound beginning."""
    file.write_bytes(head + data)
    use(file)


@fuzz
@given(places=st.lists(st.tuples(st.integers(0, len(SMALL)), st.integers(0, 40), NASTY), min_size=1, max_size=4))
def test_a_sound_file_with_parts_replaced(file: Path, places: list[tuple[int, int, str]]) -> None:
    """A file that was sound, with pieces cut out and hostile ones put in."""
    text = SMALL
    for start, length, new in places:
        text = text[:start] + new + text[start + length :]
    file.write_text(text, encoding="utf-8")
    use(file)


@fuzz
@given(swaps=st.lists(st.tuples(st.sampled_from(SMALL.splitlines()), st.sampled_from(SMALL.splitlines())), max_size=6))
def test_a_sound_file_with_lines_exchanged(file: Path, swaps: list[tuple[str, str]]) -> None:
    """Every line is right somewhere, only not here."""
    text = SMALL
    for old, new in swaps:
        text = text.replace(old, new, 1)
    file.write_text(text, encoding="utf-8")
    use(file)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(c):08x}" if not c.isalnum() else c for c in value) + '"'
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(inner)}" for key, inner in value.items()) + " }"
    return str(value)


@fuzz
@given(st.lists(st.tuples(TABLES, st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=8)), max_size=4))
def test_known_keys_with_any_values(file: Path, tables: list[tuple[str, dict]]) -> None:
    """The right keys with values of every type and depth."""
    body = "\n".join(
        "\n".join([head, *(f"{key} = {_toml(value)}" for key, value in keys.items())]) for head, keys in tables
    )
    file.write_text(
        HEAD.decode() + "[colours]\nnavy = { srgb = '#1b2440', certainty = 'memory' }\n" + body, encoding="utf-8"
    )
    use(file)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a = " + "[" * 100_000, "nests brackets too deeply"),
        ("a = " + "{a=" * 100_000, "nests brackets too deeply"),
        ("a" + ".a" * 1_000_000 + " = 1", "too many levels deep"),
        ("a" + '."\\""' * 500_000 + " = 1", "too many levels deep"),
        ("[a" + " . 'b'" * 500_000 + "]", "too many levels deep"),
        ("a = " + "9" * 100_000, "is not valid TOML"),
        ("a = 9999-99-99", "is not valid TOML"),
        ("\n\nname = \x1b", "is not valid TOML"),
        ("a = 1\na = 2", "is not valid TOML"),
        ("", "has no format line"),
    ],
    ids=range(10),
)
def test_attacks_on_the_parser(file: Path, text: str, says: str) -> None:
    """Depth, endless keys and numbers, and escape sequences end in one line, and soon."""
    file.write_text(text, encoding="utf-8")
    start = time.perf_counter()
    (fault,) = check([file])
    assert says in fault.what
    assert str(fault).isprintable()
    assert time.perf_counter() - start < 5


def test_a_file_that_is_too_large(file: Path) -> None:
    """It is not read beyond the limit."""
    file.write_bytes(b"#" * (document.MOST_BYTES + 1))
    (fault,) = check([file])
    assert "larger than 8 MB" in fault.what


def test_not_utf_8(file: Path) -> None:
    """A file in another encoding is refused at the line of the first foreign byte."""
    file.write_bytes('format = "ribbon-spec/1"\n# für\n'.encode("latin-1"))
    (fault,) = check([file])
    assert (fault.line, fault.what) == (2, "is not UTF-8 text")


def test_thousands_of_faults_stay_readable(file: Path) -> None:
    """The list ends with a line that says there are more."""
    file.write_text(HEAD.decode() + "[colours]\n" + "".join(f"k{i} = 1\n" for i in range(5000)))
    faults = check([file])
    assert len(faults) == document.MOST_FAULTS + 1
    assert any("has more than 500 faults" in fault.what for fault in faults)


def test_wildcards_cannot_multiply_without_end(file: Path) -> None:
    """Many orders of all awards are stopped before they fill the memory."""
    awards = "".join(
        f'[[award]]\nid = "a{i}"\nname = "a"\n[[award.ribbon]]\nid = "r"\nunmatched = "x"\n' for i in range(1000)
    )
    order = '[[order_of_wear]]\nid = "o{}"\ntitle = "o"\n[[order_of_wear.group]]\nid = "g"\ntitle = "g"\n'
    orders = "".join(f'{order.format(i)}sequence = "listed"\nawards = ["*"]\n' for i in range(300))
    file.write_text(HEAD.decode() + awards + orders)
    assert any("more than 200000 places" in fault.what for fault in check([file]))


@pytest.mark.parametrize("path", ["missing.toml", "no\0name", "", "\x1b[2J", "x" * 5000])
def test_paths_that_hold_no_file(tmp_path: Path, path: str) -> None:
    """A path that cannot be read is named in one printable line."""
    (fault,) = check([tmp_path / path])
    assert str(fault).isprintable()
    with pytest.raises(SpecError):
        read_specification([tmp_path / path])


def test_a_device_is_not_read() -> None:
    """An endless device is no specification file."""
    (fault,) = check([Path("/dev/zero")])
    assert "is not a file" in fault.what


def test_a_ring_of_links(tmp_path: Path) -> None:
    """A link to itself is a path that holds no file."""
    (tmp_path / "a.toml").symlink_to(tmp_path / "a.toml")
    assert check([tmp_path / "a.toml"])
    assert check([tmp_path])
