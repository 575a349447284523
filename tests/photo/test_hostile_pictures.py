"""Whatever the picture, the whole audit ends in an honest outcome or one line, in little time and memory."""

import os
import subprocess
import sys
import time

import numpy as np
import pytest
from PIL import Image

from ribbonbar.cli import main
from tests.cli.desk import LORRANDY, SAMPLES, command

MOST_KIB = 1.2 * 1024 * 1024
MOST_SECONDS = 20.0


def noise(*shape: int) -> np.ndarray:
    return np.random.default_rng(7).integers(0, 256, shape, np.uint8)


def ramp(height: int, width: int, channels: int = 3) -> np.ndarray:
    """Quick to make and to pack, and no two neighbouring columns alike."""
    return np.broadcast_to(np.arange(width, dtype=np.uint8)[None, :, None], (height, width, channels)).copy()


SMALL = {
    "black": np.zeros((600, 800, 3), np.uint8),
    "white": np.full((600, 800, 3), 255, np.uint8),
    "noise": noise(600, 800, 3),
    "one pixel": noise(1, 1, 3),
    "one line": noise(1, 20_000, 3),
    "one column": noise(20_000, 1, 3),
    "a thin strip": noise(12, 20_000, 3),
    "blocks": np.kron(noise(30, 80, 3), np.ones((20, 10, 1), np.uint8)),
    "stripes": np.kron(noise(1, 40, 3), np.ones((600, 20, 1), np.uint8)),
}


@pytest.mark.parametrize("name", SMALL)
def test_a_picture_of_nothing_is_no_bar_and_nobody_is_accused(tmp_path, capsys, name):
    """All black, all white, noise, a single pixel, a line: status 3, never an order found wrong, never a traceback."""
    photo = tmp_path / "p.png"
    Image.fromarray(SMALL[name]).save(photo)
    assert main(command(photo)) == 3
    told = capsys.readouterr()
    assert told.err == ""
    assert "NO RIBBON BAR FOUND" in told.out or "NOT CONFIRMED" in told.out


@pytest.mark.parametrize(
    ("name", "kind"), [("bar.png", "JPEG"), ("bar.jpg", "PNG"), ("bar", "WEBP"), ("bar.txt", "TIFF")]
)
def test_what_a_file_is_called_does_not_matter(tmp_path, name, kind):
    """A name's ending is a habit; the content decides."""
    Image.open(SAMPLES / "out-of-order.jpg").save(tmp_path / name, kind, quality=95)
    assert main(command(tmp_path / name)) == 1


@pytest.mark.parametrize("mode", ["CMYK", "L", "P", "RGBA"])
def test_a_bar_in_any_kind_of_pixels_is_judged(tmp_path, mode):
    """As a printer's CMYK, with a palette, with transparency it is out of order; in grey it is accused of nothing."""
    kind = "TIFF" if mode == "CMYK" else "PNG"
    Image.open(SAMPLES / "out-of-order.jpg").convert(mode).save(tmp_path / "bar", kind)
    assert main(command(tmp_path / "bar")) == (3 if mode == "L" else 1)


def used_by(*arguments: str) -> tuple[int, float, float, bytes]:
    """Status, seconds, most memory (KiB) and standard error of the command in a process of its own."""
    code = (
        "import sys; from ribbonbar.cli import main; status = main(sys.argv[1:])\n"
        "peak = next(line for line in open('/proc/self/status') if line.startswith('VmHWM'))\n"
        "sys.stdout.write(f'\\n{peak.split()[1]}'); sys.exit(status)"
    )
    begun = time.monotonic()
    environment = os.environ | {"OMP_NUM_THREADS": "1"}
    ran = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, env=environment)
    return ran.returncode, time.monotonic() - begun, int(ran.stdout.split()[-1]), ran.stderr


@pytest.mark.skipif(sys.platform != "linux", reason="memory of a process as Linux counts it, in KiB")
@pytest.mark.parametrize(
    ("name", "kind", "picture"),
    [
        ("largest.png", "PNG", lambda: Image.fromarray(ramp(6700, 8950))),
        ("transparent.png", "PNG", lambda: Image.fromarray(ramp(6700, 8950, 4))),
        ("deep-grey.png", "PNG", lambda: Image.fromarray(ramp(6700, 8950, 1)[..., 0].astype(np.uint16) * 257)),
        ("largest.webp", "WEBP", lambda: Image.fromarray(ramp(6700, 8950))),
        ("cmyk.jpg", "JPEG", lambda: Image.fromarray(ramp(6700, 8950, 4), "CMYK")),
        ("noise.jpg", "JPEG", lambda: Image.fromarray(noise(3000, 4000, 3))),
    ],
)
def test_the_largest_pictures_allowed_take_little_memory_and_time(tmp_path, name, kind, picture):
    """60 megapixels of any kind: below 1.2 GiB and 20 s, with the page written too."""
    options = {"compress_level": 1} if kind == "PNG" else {"quality": 80}
    picture().save(tmp_path / name, kind, **options, **({"method": 0} if kind == "WEBP" else {}))
    typed = ["audit", str(tmp_path / name), "--spec", str(LORRANDY), "--html", str(tmp_path / "r.html")]
    status, seconds, kib, said = used_by(*typed)
    assert (status, said) == (3, b"")
    assert kib < MOST_KIB
    assert seconds < MOST_SECONDS


@pytest.mark.skipif(sys.platform != "linux", reason="memory of a process as Linux counts it, in KiB")
def test_a_bomb_costs_nothing(tmp_path):
    """A picture of 60,000 x 60,000 pixels in a file of a few kilobytes: one line that names the limit's option."""
    from tests.photo.test_opening import chunk

    header = (60_000).to_bytes(4) * 2 + bytes([8, 2, 0, 0, 0])
    (tmp_path / "bomb.png").write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"x" * 4000))
    status, seconds, kib, said = used_by("audit", str(tmp_path / "bomb.png"), "--spec", str(LORRANDY))
    assert status == 2
    assert said.count(b"\n") == 1
    assert b"more than 60 megapixels; make it smaller, or raise the limit with --max-megapixels" in said
    assert kib < 200 * 1024
    assert seconds < 5
