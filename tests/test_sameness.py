"""Same in, same out: a photo's report does not depend on how, with what else, or how often it was audited."""

import json
import shutil
from pathlib import Path

import pytest

from ribbonbar.batch import AuditJob, audit_many
from ribbonbar.options import AuditOptions
from tests.cli.desk import LORRANDY, ORDER, SAMPLES, command, program

NAMES = ("in-order", "out-of-order", "shared-ribbon", "unknown", "on-a-jacket", "finished-bar")
PHOTOS = [SAMPLES / f"{name}.jpg" for name in NAMES]
JOB = AuditJob((LORRANDY,), AuditOptions(order=ORDER))


def report(line: str) -> dict:
    """A report without what a clock says."""
    found = json.loads(line)
    assert found.pop("timing_ms")
    found.pop("made_with", None)
    return found


def reports(photos: list[Path], workers: int) -> dict[str, dict]:
    found = [report(entry.line) for entry in audit_many(photos, JOB, workers=workers).entries]
    return {one["photo"]["name"]: one for one in found}


@pytest.fixture(scope="module")
def on_one_worker() -> dict[str, dict]:
    return reports(PHOTOS, 1)


def test_two_workers_say_what_one_says(on_one_worker):
    """Whichever worker takes which photo, and whatever it had before."""
    assert reports(PHOTOS, 2) == on_one_worker


def test_the_sequence_of_the_photos_does_not_matter(on_one_worker):
    """Backwards, and without every second one: nothing is learnt from one photo that is used on the next."""
    assert reports(PHOTOS[::-1], 1) == on_one_worker
    some = reports(PHOTOS[::2], 2)
    assert some == {name: on_one_worker[name] for name in some}


@pytest.mark.parametrize("seed", ["1", "2"])
def test_a_process_of_its_own_says_the_same(on_one_worker, seed):
    """As one photo with all cores to itself; Python's hashes, which change with every process, decide nothing."""
    for photo in (PHOTOS[1], PHOTOS[2], PHOTOS[5]):
        ran = program(*command(photo, "--json", "-"), PYTHONHASHSEED=seed, OMP_NUM_THREADS=seed)
        assert report(ran.stdout.decode()) == on_one_worker[photo.name]


def test_where_the_photo_lies_does_not_matter(on_one_worker, tmp_path):
    """Another folder, the same name: the same report, to the last digit."""
    shutil.copy(PHOTOS[0], tmp_path / PHOTOS[0].name)
    assert reports([tmp_path / PHOTOS[0].name], 1) == {PHOTOS[0].name: on_one_worker[PHOTOS[0].name]}


def test_words_and_files_are_the_same_from_run_to_run(tmp_path):
    """Every file and every line printed, of an audit, a plan and an explanation, byte for byte."""
    told = []
    for seed in ("3", "4"):
        out = tmp_path / seed
        out.mkdir()
        commands = [
            command(PHOTOS[1], "--html", out / "r.html", "--csv", out / "r.csv", "--annotate", out / "r.png"),
            [
                *("plan", SAMPLES / "work-order.toml", "--spec", LORRANDY, "--json", out / "p.json"),
                *("--svg", out / "p.svg", "--pdf", out / "p.pdf", "--cutting", out / "p.csv"),
            ],
            ["explain", "Lorrandy War Medal", "Straits Star", "--spec", LORRANDY],
            ["spec", "lookalikes", LORRANDY],
        ]
        printed = [program(*map(str, words), PYTHONHASHSEED=seed).stdout for words in commands]
        told.append((printed, {path.name: path.read_bytes() for path in out.iterdir()}))
    assert told[0][1].keys() == told[1][1].keys()
    assert [name for name in told[0][1] if told[0][1][name] != told[1][1][name]] == []
    assert told[0][0] == told[1][0]
