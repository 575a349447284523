"""A picture file from anybody becomes an upright picture, or one clear line."""

import io
import os
import re
import struct
import sys
import zlib

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from ribbonbar.errors import PhotoError
from ribbonbar.photo.opening import open_photo

COLOURS = np.array([[(200, 30, 40), (30, 160, 60)], [(240, 220, 40), (30, 40, 150)]], np.uint8)
PICTURE = Image.fromarray(np.kron(COLOURS, np.ones((24, 32, 1), np.uint8)))  # 64 x 48, four fields


def saved(folder, name, image=PICTURE, **options):
    path = folder / name
    image.save(path, **options)
    return path


def fields(pixels):
    """The colours in the middle of the four quarters."""
    height, width = pixels.shape[:2]
    return np.array([[pixels[y, x] for x in (width // 4, 3 * width // 4)] for y in (height // 4, 3 * height // 4)])


def refusal(path, **options):
    """The one line with which a file is refused."""
    with pytest.raises(PhotoError) as caught:
        open_photo(path, **options)
    line = str(caught.value)
    assert "\n" not in line
    assert str(path) in line
    return line


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("a.jpg", {"quality": 95}),
        ("progressive.jpg", {"quality": 95, "progressive": True}),
        ("a.png", {}),
        ("a.tif", {}),
        ("packed.tif", {"compression": "tiff_lzw"}),
        ("a.webp", {"quality": 95}),
    ],
)
def test_common_files_open_with_their_colours(tmp_path, name, options):
    """JPEG, PNG, TIFF and WebP give the same picture."""
    picture = open_photo(saved(tmp_path, name, **options))
    assert (picture.width, picture.height, picture.pixels.dtype) == (64, 48, np.uint8)
    assert np.abs(fields(picture.pixels).astype(int) - COLOURS).max() < 12
    assert re.fullmatch("[0-9a-f]{64}", picture.sha256)
    assert picture.name == name


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", ["jpg", "png"])
def test_pictures_stand_upright(tmp_path, orientation, suffix):
    """Each of the eight EXIF orientations comes out as the upright picture it describes; Pillow's turn is the check."""
    from PIL import ImageOps

    exif = Image.Exif()
    exif[274] = orientation
    path = saved(tmp_path, f"a.{suffix}", exif=exif, **({"quality": 95} if suffix == "jpg" else {}))
    expected = np.asarray(ImageOps.exif_transpose(Image.open(path)).convert("RGB")).astype(int)
    assert np.abs(open_photo(path).pixels.astype(int) - expected).max() < 8


@pytest.mark.parametrize("mode", ["L", "P", "1", "CMYK", "LA", "RGBA"])
def test_every_kind_of_pixel_becomes_rgb(tmp_path, mode):
    """Grey, palette, one-bit, CMYK and transparent pictures come out as Pillow would show them on white."""
    suffix = "jpg" if mode == "CMYK" else "png"
    picture = open_photo(saved(tmp_path, f"{mode}.{suffix}", PICTURE.convert(mode)))
    expected = fields(np.asarray(PICTURE.convert(mode).convert("RGB")))
    assert np.abs(fields(picture.pixels).astype(int) - expected).max() < 12


def test_transparency_is_laid_on_white(tmp_path):
    """A transparent pixel shows white, a half transparent one half its colour."""
    image = PICTURE.convert("RGBA")
    image.putalpha(Image.fromarray(np.tile(np.uint8([[0, 128]]).repeat(32, axis=1), (48, 1))))
    pixels = open_photo(saved(tmp_path, "a.png", image)).pixels
    assert fields(pixels)[0, 0].tolist() == [255, 255, 255]
    assert fields(pixels)[0, 1].tolist() == pytest.approx([142, 207, 157], abs=2)


def test_sixteen_bit_grey_and_colour(tmp_path):
    """16 bits a channel become 8 by scaling, in PNG and TIFF, grey and colour."""
    grey = np.linspace(0, 65535, 64 * 48).reshape(48, 64).astype(np.uint16)
    pixels = open_photo(saved(tmp_path, "grey.png", Image.fromarray(grey))).pixels
    assert np.abs(pixels[..., 0].astype(int) - grey / 257).max() <= 1
    deep = np.asarray(PICTURE).astype(np.uint16) * 257
    for name in ("deep.png", "deep.tif"):
        assert cv2.imwrite(str(tmp_path / name), deep[..., ::-1])
        assert np.abs(open_photo(tmp_path / name).pixels.astype(int) - np.asarray(PICTURE)).max() <= 1


@pytest.mark.parametrize("suffix", ["gif", "webp", "png"])
def test_of_an_animation_the_first_frame_counts(tmp_path, suffix):
    """An animated picture is read by its first frame."""
    others = [Image.new("RGB", PICTURE.size, "black")]
    path = saved(tmp_path, f"a.{suffix}", save_all=True, append_images=others, duration=100)
    assert np.abs(fields(open_photo(path).pixels).astype(int) - COLOURS).max() < 40


def test_a_colour_profile_is_kept_for_the_crop(tmp_path):
    """An sRGB profile is dropped as it changes nothing; a swapped-primaries one is kept and converts."""
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert open_photo(saved(tmp_path, "srgb.jpg", icc_profile=srgb)).icc == b""
    swapped = swap_red_and_green(srgb)
    picture = open_photo(saved(tmp_path, "swapped.png", icc_profile=swapped))
    assert picture.icc == swapped
    assert np.abs(picture.srgb().astype(int) - picture.pixels[..., [1, 0, 2]]).max() <= 3
    assert open_photo(saved(tmp_path, "broken.jpg", icc_profile=b"no profile at all" * 20)).icc == b""


def swap_red_and_green(profile):
    """The profile with its red and green colorants exchanged."""
    swapped = bytearray(profile)
    for k in range(struct.unpack_from(">I", profile, 128)[0]):
        at = 132 + 12 * k
        name = {b"rXYZ": b"gXYZ", b"gXYZ": b"rXYZ"}.get(bytes(profile[at : at + 4]))
        if name:
            swapped[at : at + 4] = name
    return bytes(swapped)


def test_a_declared_bomb_is_refused_from_its_header(tmp_path):
    """60,000 x 60,000 declared pixels are refused before anything is decoded, and the line names the limit's option."""
    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    path = tmp_path / "bomb.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"")))
    assert "--max-megapixels" in refusal(path)
    small = saved(tmp_path, "small.png")
    assert "0.001 megapixels" in refusal(small, max_megapixels=0.001)


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.webp"])
def test_a_file_cut_short_is_said_to_be(tmp_path, name):
    """A file that ends too early is refused, never filled up with grey."""
    noise = Image.fromarray(np.random.default_rng(1).integers(0, 255, (200, 300, 3), np.uint8))
    path = saved(tmp_path, name, noise)
    whole = path.read_bytes()
    for part in (0.97, 0.6, 0.1, 0.01):
        path.write_bytes(whole[: int(len(whole) * part)])
        refusal(path)


def test_what_follows_a_whole_jpeg_does_not_matter(tmp_path):
    """Makers append previews and videos after a JPEG's end."""
    path = saved(tmp_path, "a.jpg")
    path.write_bytes(path.read_bytes() + b"maker's own data \xff\xd8\xff" * 50)
    assert open_photo(path).width == 64


def test_a_thumbnails_end_is_not_the_pictures(tmp_path):
    """The thumbnail in the EXIF block carries an end marker of its own; a picture cut after it is still cut short."""
    small = io.BytesIO()
    PICTURE.resize((16, 12)).save(small, "JPEG")
    path = saved(tmp_path, "a.jpg", exif=b"Exif\0\0" + small.getvalue())
    data = path.read_bytes()
    path.write_bytes(data[:-40])
    assert "cut short" in refusal(path)


def test_files_that_are_no_pictures(tmp_path):
    """Text with a picture's name, an empty file, a folder, nothing at all, a device: one line each."""
    (tmp_path / "text.jpg").write_text("dear sir, enclosed please find my ribbons" * 20)
    (tmp_path / "empty.jpg").write_bytes(b"")
    (tmp_path / "folder.jpg").mkdir()
    assert "not a picture" in refusal(tmp_path / "text.jpg")
    assert "empty" in refusal(tmp_path / "empty.jpg")
    assert "folder" in refusal(tmp_path / "folder.jpg")
    assert "no such file" in refusal(tmp_path / "missing.jpg")


@pytest.mark.skipif(os.name != "posix", reason="devices and permissions of POSIX systems")
def test_files_that_cannot_be_read(tmp_path):
    """A pipe is no picture, and an unreadable file says so."""
    os.mkfifo(tmp_path / "pipe.jpg")
    assert "regular file" in refusal(tmp_path / "pipe.jpg")
    path = saved(tmp_path, "locked.jpg")
    path.chmod(0)
    if not os.access(path, os.R_OK):
        assert "cannot be read" in refusal(path)


def test_a_postscript_program_is_never_run(tmp_path):
    """Formats that are programs are not opened at all, whatever the library could do with them."""
    (tmp_path / "a.png").write_bytes(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\nshowpage\n")
    assert "not a picture" in refusal(tmp_path / "a.png")


@pytest.mark.parametrize("size", [(1, 1), (1, 20_000), (20_000, 1)])
def test_extreme_shapes_open(tmp_path, size):
    """A single pixel and a single line are honest pictures."""
    for suffix in ("png", "jpg"):
        picture = open_photo(saved(tmp_path, f"a.{suffix}", Image.new("RGB", size, "white")))
        assert (picture.width, picture.height) == size


def test_a_broken_exif_block_does_not_spoil_the_picture(tmp_path):
    """Rubbish, an absurd offset and a huge block where EXIF should be: the picture opens as it is."""
    rubbish = b"Exif\0\0II*\0" + struct.pack("<I", 0x7FFFFFFF)
    loops = b"Exif\0\0II*\0" + struct.pack("<IHHHII", 8, 1, 0x8769, 4, 1, 8) + struct.pack("<I", 8)
    for block in (rubbish, loops, b"Exif\0\0" + b"\xff" * 60_000):
        assert open_photo(saved(tmp_path, "a.jpg", exif=block)).width == 64


def test_heic_opens_upright_where_its_reader_is_installed(tmp_path):
    """What iPhones write opens with the optional reader, its rotation applied once."""
    heif = pytest.importorskip("pillow_heif")
    exif = Image.Exif()
    exif[274] = 6
    heif.from_pillow(PICTURE).save(tmp_path / "a.heic", quality=95, exif=exif.tobytes())
    picture = open_photo(tmp_path / "a.heic")
    assert {picture.width, picture.height} == {48, 64}


def test_heic_without_its_reader_says_what_to_install(tmp_path, monkeypatch):
    """Without the optional reader the line says how to get it, or to convert."""
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    path = tmp_path / "a.heic"
    path.write_bytes(struct.pack(">I", 24) + b"ftypheic" + bytes(12) + bytes(100))
    line = refusal(path)
    assert "ribbonbar[heic]" in line
    assert "JPEG" in line


@pytest.mark.parametrize("seed", range(40))
def test_damaged_files_give_a_line_or_a_picture(tmp_path, seed):
    """Bytes changed at random: never an exception but the package's own."""
    rng = np.random.default_rng(seed)
    name = ("a.jpg", "a.png", "a.tif", "a.webp", "a.gif")[seed % 5]
    path = saved(tmp_path, name)
    data = bytearray(path.read_bytes())
    for _ in range(int(rng.integers(1, 30))):
        data[int(rng.integers(0, len(data)))] = int(rng.integers(0, 256))
    path.write_bytes(bytes(data))
    try:
        assert open_photo(path).pixels.dtype == np.uint8
    except PhotoError as error:
        assert "\n" not in str(error)
