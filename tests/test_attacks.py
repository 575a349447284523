"""Attacks by way of the files: every text of a specification, a record and a photo's name tries one, and every output
of every command is looked through."""

import csv
import io
import re
import shutil
import unicodedata
import xml.etree.ElementTree as ElementTree
from html.parser import HTMLParser
from itertools import cycle
from pathlib import Path

import pytest

from ribbonbar.cli import main
from ribbonbar.spec.reader import check
from tests.cli.desk import LORRANDY, ROOT, SAMPLES
from tests.spec.small import SMALL

PAYLOADS = (
    "<script>document.title='CANARY'</script>",
    '\\"><img src=x onerror=alert(1)>',
    "</style><svg onload=alert(1)>",
    "]]><!--",
    "javascript:alert(1)//",
    '=HYPERLINK(\\"file:///CANARY\\")',
    "+cmd|' /C CANARY'!A0",
    "-2+3+cmd",
    "@SUM(1+9)",
    "{{ 7 * 191 }}{% include '/etc/passwd' %}",
    "{0.__class__.__init__.__globals__}",
    "%(password)s%n",
    "$(touch CANARY)`touch CANARY`",
    "__import__('os').system('touch CANARY')",
    "../../../../CANARY",
    "file:///etc/passwd",
    "&lt;b&gt;&#x1b;[2J",
    "\\\\n=1+1",
)
TEXTS = re.compile(r'^(\s*)(name|title|because|worn_elsewhere|unmatched)( *= *)"(.*)"', re.MULTILINE)


class Page(HTMLParser):
    """What a browser would act on: tags, attributes, where they lead."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attributes: list) -> None:
        self.tags.add(tag)
        self.attributes += [(name, value or "") for name, value in attributes]


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory):
    """The demo with an attack before every text; every command run, standard output and files kept."""
    folder = tmp_path_factory.mktemp("attacked")
    payloads = cycle(PAYLOADS)
    text = TEXTS.sub(lambda m: f'{m[1]}{m[2]}{m[3]}"{next(payloads)} {m[4]}"', LORRANDY.read_text(encoding="utf-8"))
    text = re.sub(r'^abbreviation = "(.*)"', 'abbreviation = "=1+<b>{{7*191}}"', text, flags=re.MULTILINE)
    (folder / "spec.toml").write_text(text, encoding="utf-8")
    photo = folder / "=1+1 <img src=x onerror=alert(1)> {{7*191}}.jpg"
    shutil.copy(SAMPLES / "finished-bar.jpg", photo)
    record = (SAMPLES / "work-order.toml").read_text(encoding="utf-8")
    record = re.sub(r"^reference = .*$", "reference = '=1+1<script>{{ 7 * 191 }}</script>'", record, flags=re.MULTILINE)
    (folder / "record.toml").write_text(record, encoding="utf-8")
    out = folder / "out"
    out.mkdir()
    spec, work_order = folder / "spec.toml", folder / "record.toml"
    award = "lorrandy/sea-gallantry-cross"
    commands = [
        [
            *("audit", photo, "--spec", spec, "--order", "lorrandy/lorrandy-forces", "--work-order", work_order),
            *("--html", out / "r.html", "--csv", out / "r.csv", "--handover", out / "h.html", "--json", out / "r.json"),
            *("--annotate", out / "r.png", "--debug-folder", out / "stages"),
        ],
        [
            *("audit", photo, SAMPLES / "shared-ribbon.jpg", "--spec", spec, "--workers", "1"),
            *("--html", out / "m.html", "--csv", out / "m.csv", "--json", out / "m.jsonl"),
        ],
        [
            *("plan", work_order, "--spec", spec, "--svg", out / "p.svg", "--pdf", out / "p.pdf"),
            *("--png", out / "p.png", "--cutting", out / "p.csv", "--json", out / "p.json"),
        ],
        ["explain", award, "lorrandy/straits-star", "--spec", spec],
        ["spec", "check", spec],
        ["spec", "coverage", spec],
        ["spec", "lookalikes", spec],
        ["spec", "draw", spec, "-o", out / "chart.png"],
        ["spec", "from-photo", photo, "--spec", spec, "--all", "-o", out / "draft.toml"],
    ]
    said = []
    work = folder / "work"
    work.mkdir()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(work)
        for words in commands:
            stdout, stderr = io.StringIO(), io.StringIO()
            patch.setattr("sys.stdout", stdout)
            patch.setattr("sys.stderr", stderr)
            status = main([str(word) for word in words])
            assert status in (0, 1, 3), (words[:2], stderr.getvalue())
            said.append(stdout.getvalue() + stderr.getvalue())
    return folder, "".join(said)


def test_the_attacks_are_really_in_the_outputs(attacked):
    """The specification was read and the hostile names are told, or nothing below would mean anything."""
    folder, said = attacked
    assert said.count("CANARY") > 5
    assert "CANARY" in (folder / "out" / "r.html").read_text(encoding="utf-8")
    assert "CANARY" in (folder / "out" / "p.svg").read_text(encoding="utf-8")


def test_nothing_ran_and_nothing_was_written_elsewhere(attacked):
    """No canary, no file but those named; ids and names lead to no path."""
    folder, _ = attacked
    assert list((folder / "work").iterdir()) == []
    assert {path.name for path in folder.iterdir()} - {"out", "work"} == {
        "spec.toml",
        "record.toml",
        "=1+1 <img src=x onerror=alert(1)> {{7*191}}.jpg",
    }
    assert not list(folder.parent.rglob("*CANARY*"))
    stages = {path.name for path in (folder / "out" / "stages").iterdir()}
    assert all(re.fullmatch(r"candidates\.png|bar\d+-row\d+-(strip|ribbons)\.png", name) for name in stages)


@pytest.mark.parametrize("name", ["r.html", "h.html", "m.html"])
def test_pages_hold_no_foreign_markup(attacked, name):
    """No script, no handler, nothing that leads or loads from elsewhere; template code is only text."""
    text = (attacked[0] / "out" / name).read_text(encoding="utf-8")
    page = Page(text)
    assert not page.tags & {"iframe", "object", "embed", "form", "base", "link"}
    scripts = re.findall(r"<script[^>]*>(.*?)</script>", text, re.DOTALL)
    own = (ROOT / "src/ribbonbar/report/templates/overview.js").read_text(encoding="utf-8")
    assert all(
        script.strip() == own.strip() for script in scripts
    )  # the overview sorts its table; the page of one photo has none
    assert len(scripts) == text.count("<script") == (1 if name == "m.html" else 0)
    for attribute, value in page.attributes:
        assert not attribute.startswith("on")
        if attribute in ("src", "href", "xlink:href", "action", "srcset"):
            assert value.startswith(("data:image/", "#")), value
    assert "1337" not in text  # 7 * 191
    assert "root:" not in text


def test_drawings_hold_only_shapes_and_letters(attacked):
    """The SVG is well-formed XML without scripts, handlers or links."""
    tree = ElementTree.parse(attacked[0] / "out" / "p.svg")
    for element in tree.iter():
        assert element.tag.rpartition("}")[2] not in {
            "script",
            "foreignObject",
            "a",
            "image",
            "iframe",
            "animate",
            "set",
        }
        for attribute, value in element.attrib.items():
            assert not attribute.rpartition("}")[2].lower().startswith("on")
            assert "javascript:" not in value
            if attribute.endswith("href"):
                assert value.startswith("#")


@pytest.mark.parametrize("name", ["r.csv", "m.csv", "p.csv"])
def test_no_cell_of_a_table_is_a_formula(attacked, name):
    """A spreadsheet takes what begins with =, +, -, @, a tab or a line's end for a formula, unless it is a number."""
    text = (attacked[0] / "out" / name).read_text(encoding="utf-8-sig")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len({len(row) for row in rows}) == 1
    for cell in (cell for row in rows for cell in row):
        assert not re.match(r"[=+\-@\t\r\n]", cell) or re.fullmatch(r"-?\d+(\.\d+)?", cell), cell


def test_nothing_said_steers_a_terminal(attacked):
    """No control character but line ends, no mark that turns the direction of text."""
    odd = {c for c in attacked[1] if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") and c != "\n"}
    assert odd == set()


def test_a_pdf_holds_no_action(attacked):
    """ISO 32000-2, 12.6: nothing that a viewer would run or follow."""
    data = (attacked[0] / "out" / "p.pdf").read_bytes()
    for key in (b"/JavaScript", b"/JS", b"/Launch", b"/URI", b"/OpenAction", b"/AA", b"/EmbeddedFile"):
        assert key not in data or (key == b"/OpenAction" and b"/S /JavaScript" not in data)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('id = "calder"', 'id = "../calder"'),
        ('id = "valour-cross"', 'id = "../../etc/passwd"'),
        ('id = "valour-cross"', 'id = "/etc/passwd"'),
        ('id = "standard"', 'id = "a\\\\b"'),
        ('id = "forces"', 'id = "con:"'),
        ('id = "calder-1"', 'id = "x/../y"'),
        ('awards = ["valour-cross"]', 'awards = ["../other/valour-cross"]'),
        ('name = "Valour Cross"', 'name = "Valour\\u001b[2J Cross"'),
        ('name = "Valour Cross"', 'name = "Valour\\u202e Cross"'),
        ('title = "Calder dress', 'title = "Calder\\u0000 dress'),
    ],
)
def test_ids_are_plain_and_texts_are_printable(tmp_path, old, new):
    """What could become a path or steer a terminal is refused where it stands in the file."""
    assert old in SMALL
    file = tmp_path / "x.toml"
    file.write_text(SMALL.replace(old, new, 1), encoding="utf-8")
    assert any(fault.severity == "error" for fault in check([Path(file)]))
    assert all(str(fault).isprintable() for fault in check([file]))
