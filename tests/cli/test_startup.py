"""What a person waits for before anything happens, and what libraries say unasked."""

import json
import os
import subprocess
import sys

import pytest

from tests.cli.desk import LORRANDY, ORDER, SAMPLES, command, in_terminal, program, sample

HEAVY = ("cv2", "skimage", "numpy", "PIL", "jinja2", "fpdf")
on_terminals = pytest.mark.skipif(os.name == "nt", reason="terminals of this kind are a Unix thing")


def loaded_by(arguments: list[str], names: tuple[str, ...]) -> set[str]:
    """Which of the modules are loaded once the command has run."""
    code = (
        "import sys\nfrom ribbonbar.cli import main\nmain(sys.argv[2:])\n"
        "print([n for n in sys.argv[1].split(',') if n in sys.modules], file=sys.stderr)"
    )
    run = subprocess.run([sys.executable, "-c", code, ",".join(names), *arguments], capture_output=True, text=True)
    return set(json.loads(run.stderr.splitlines()[-1].replace("'", '"')))


@pytest.mark.parametrize("arguments", [["--help"], ["audit", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(arguments):
    """No picture library, no numbers library: help is there at once."""
    assert loaded_by(arguments, HEAVY) == set()


def processor_seconds(*arguments: str) -> float:
    """The least of three runs, so that what else the machine does hardly counts."""
    resource = pytest.importorskip("resource")

    def used() -> float:
        usage = resource.getrusage(resource.RUSAGE_CHILDREN)
        return usage.ru_utime + usage.ru_stime

    spent = []
    for _ in range(3):
        before = used()
        program(*arguments)
        spent.append(used() - before)
    return min(spent)


def test_help_is_there_in_less_than_a_third_of_a_second():
    """Processor time of a cold start; the bar is 0.3 s."""
    assert processor_seconds("--help") < 0.3


def test_a_cold_audit_takes_less_than_a_second_and_a_half():
    """Processor time with all shipped specifications read, the picture found, read and judged."""
    assert processor_seconds("audit", sample("in-order"), "--order", ORDER) < 1.5


def test_an_audit_loads_only_what_it_uses():
    """Pages are not asked for, so no templates; colour differences are computed without the large library."""
    assert loaded_by(command(sample("in-order")), ("jinja2", "skimage", "fpdf", "multiprocessing.spawn")) == set()


def chattering(path):
    """A JPEG that its decoder can read but complains of: bytes between two segments that belong to none."""
    data = (SAMPLES / "in-order.jpg").read_bytes()
    scan = data.index(b"\xff\xda")
    path.write_bytes(data[:scan] + b"\x00\x00\x00" + data[scan:])
    return path


def test_what_libraries_print_reaches_nobody(tmp_path):
    """Standard output is one JSON report, standard error is empty, though the JPEG decoder complains."""
    photo = chattering(tmp_path / "chatter.jpg")
    code = f"import cv2; cv2.imread({str(photo)!r})"
    noise = subprocess.run([sys.executable, "-c", code], capture_output=True)
    assert b"extraneous" in noise.stderr, "the decoder says nothing of it, so this test shows nothing"
    ran = program("audit", str(photo), "--spec", str(LORRANDY), "--order", ORDER, "--json", "-")
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert json.loads(ran.stdout)["outcome"] == "in-order"


def test_a_reader_that_has_seen_enough_is_no_error():
    """``ribbonbar audit … | head -1``: no complaint, and the exit status is the bar's."""
    read, write = os.pipe()
    os.close(read)
    code = "from ribbonbar.cli import run; run()"
    ran = subprocess.run(
        [sys.executable, "-c", code, *command(sample("in-order"))], stdout=write, stderr=subprocess.PIPE
    )
    os.close(write)
    assert (ran.returncode, ran.stderr) == (0, b"")


def test_letters_that_the_output_cannot_show_are_no_error():
    """An output of plain ASCII gets question marks."""
    ran = program(*command(sample("out-of-order")), PYTHONIOENCODING="ascii")
    assert (ran.returncode, ran.stderr) == (1, b"")
    assert b"?Campaign medals" in ran.stdout


@on_terminals
def test_colour_only_on_a_terminal_that_wants_it():
    """Drawn in colour to the terminal's width; NO_COLOR (no-color.org) leaves the words, which say the same."""
    shown, status = in_terminal(command(sample("out-of-order")), [])
    plain, _ = in_terminal(command(sample("out-of-order")), [], NO_COLOR="1")
    assert status == 1
    assert "\x1b[" in shown
    assert "\x1b" not in plain
    assert 80 < max(map(len, plain.splitlines())) <= 100
    assert "its place is 1.2" in " ".join(plain.split())


@on_terminals
def test_the_doubtful_ribbon_is_asked_about_and_the_bar_settled():
    """Two medals on one ribbon: both are drawn and described, the second is chosen, the bar is in order."""
    shown, status = in_terminal(command(sample("shared-ribbon"), "--ask"), ["2\n"])
    assert status == 0
    assert shown.count("leaves it open: ") == 1
    question, report = shown.split("To answer the same")
    assert "Ribbon 1.4 (1 of 1 in doubt) may be one of these" in question
    assert "Coastguard Long Service Medal" in question
    assert "green edges" in question
    assert "given by hand" in report
    assert " --answer 1.4=lorrandy/" in report


@on_terminals
def test_ctrl_c_while_asking_ends_with_one_line():
    """Status 130 and a word that it has stopped."""
    shown, status = in_terminal(command(sample("shared-ribbon"), "--ask"), ["\x03"])
    assert status == 130
    assert shown.splitlines()[-1] == "ribbonbar: stopped"
