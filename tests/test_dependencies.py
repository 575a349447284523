"""What the program stands on: named with a licence and an oldest version, and content without a screen."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

from tests.cli.desk import command, program, sample

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
BOUNDS = [*PROJECT["dependencies"], *(bound for extra in PROJECT["optional-dependencies"].values() for bound in extra)]


@pytest.mark.parametrize("bound", BOUNDS)
def test_every_dependency_has_an_oldest_version_and_a_licence(bound):
    """The oldest version is one that ``.ci/oldest`` can install; the licence stands in the contributors' table."""
    name, version = re.fullmatch(r"([a-z0-9-]+)>=([0-9.]+)", bound).groups()
    assert version
    rows = [line for line in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines() if line.startswith("|")]
    (row,) = [line for line in rows if name in re.split(r"[ ,]+", line.split("|")[1])]
    assert re.search(r"MIT|BSD|Apache|LGPL|MPL", row)


def test_no_window_is_ever_opened():
    """The package is run on servers and over the wire: it calls nothing that draws on a screen."""
    windows = {"imshow", "namedWindow", "waitKey", "selectROI", "destroyAllWindows", "show"}
    for path in (ROOT / "src").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                assert node.func.attr not in windows, path


def test_a_machine_without_a_screen_is_enough(monkeypatch, tmp_path):
    """No display of any kind is named, and one that is not there is not missed."""
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "XDG_RUNTIME_DIR", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    typed = command(sample("out-of-order"), "--annotate", tmp_path / "a.png")
    ran = program(*typed)
    assert (ran.returncode, ran.stderr) == (1, b"")
    ran = program(*typed, "--force", DISPLAY=":99", QT_QPA_PLATFORM="none-such")
    assert (ran.returncode, ran.stderr) == (1, b"")
    assert (tmp_path / "a.png").stat().st_size > 10_000
