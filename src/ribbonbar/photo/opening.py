"""Opening a picture file that may come from anybody.

The header is read first and decides; nothing is decoded that is too large, of an unexpected kind, or cut short. A JPEG
or a plain WebP is decoded by OpenCV, which writes straight into an array (half the time of Pillow, and of a WebP a
quarter of the memory); all else by Pillow.
"""

import hashlib
import io
import os
import re
import struct
import warnings
from contextlib import contextmanager, suppress
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, UnidentifiedImageError

from ribbonbar.errors import PhotoError
from ribbonbar.photo.icc import useful_profile
from ribbonbar.photo.model import Picture

MAX_MEGAPIXELS = 60.0
MAX_FILE_BYTES = 512 << 20
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "GIF", "BMP")
_HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"heif")
_BAND = 256
"""Lines converted at a time."""
_ORIENTATION = 274  # the EXIF tag
_AS_STORED = cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION
_JPEG_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
_TURNS = {
    2: lambda p: cv2.flip(p, 1),
    3: lambda p: cv2.rotate(p, cv2.ROTATE_180),
    4: lambda p: cv2.flip(p, 0),
    5: cv2.transpose,
    6: lambda p: cv2.rotate(p, cv2.ROTATE_90_CLOCKWISE),
    7: lambda p: cv2.rotate(cv2.transpose(p), cv2.ROTATE_180),
    8: lambda p: cv2.rotate(p, cv2.ROTATE_90_COUNTERCLOCKWISE),
}


def open_photo(path: str | Path, max_megapixels: float = MAX_MEGAPIXELS) -> Picture:
    """Open JPEG, PNG, TIFF, WebP, HEIC (with pillow-heif), GIF or BMP as an upright 8-bit RGB picture.

    EXIF orientation is applied; transparency is laid on white; of an animation the first frame counts; CMYK becomes
    sRGB; an RGB colour profile other than sRGB is kept in ``Picture.icc``. Raises PhotoError, one line, for anything
    that is no whole picture or has more than ``max_megapixels``.
    """
    path = Path(path)
    data = _read(path)
    if not data:
        raise PhotoError(f"{path}: the file is empty; copy the photo again")
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        _allow_heif(path)
    try:
        with _quiet_pillow():
            pixels, profile = _decode(path, data, max_megapixels)
    except PhotoError:
        raise
    except (OSError, SyntaxError, ValueError, EOFError, struct.error, IndexError, KeyError, TypeError) as error:
        raise PhotoError(f"{path}: damaged or cut short ({_short(error)}); copy the photo again") from None
    except (MemoryError, cv2.error, OverflowError, ZeroDivisionError, RuntimeError, AttributeError) as error:
        raise PhotoError(f"{path}: cannot be decoded ({_short(error)}); save it as JPEG and try again") from None
    return Picture(path.name, pixels, hashlib.sha256(data).hexdigest(), profile)


def _read(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise PhotoError(f"{path}: is a folder; name the picture files in it")
        if not path.exists():
            raise PhotoError(f"{path}: no such file")
        if not path.is_file():
            raise PhotoError(f"{path}: is not a regular file")
        if path.stat().st_size > MAX_FILE_BYTES:
            raise PhotoError(f"{path}: larger than {MAX_FILE_BYTES >> 20} MiB; save it as JPEG and try again")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = os.strerror(error.errno) if getattr(error, "errno", None) else _short(error)
        raise PhotoError(f"{path}: cannot be read ({reason})") from None


def _decode(path: Path, data: bytes, max_megapixels: float) -> tuple[np.ndarray, bytes]:
    try:
        image = Image.open(io.BytesIO(data), formats=_formats())
    except UnidentifiedImageError:
        return _decode_deep_tiff(path, data, max_megapixels), b""
    _check_size(path, *image.size, max_megapixels)
    orientation = _orientation(image)
    profile = image.info.get("icc_profile") or b""
    jpeg = image.format in ("JPEG", "MPO") and image.mode in ("RGB", "L")
    if jpeg or (image.format == "WEBP" and image.mode == "RGB" and getattr(image, "n_frames", 1) == 1):
        if jpeg and not _jpeg_is_whole(data):
            raise PhotoError(f"{path}: the JPEG is cut short; copy the photo again")
        pixels = _decode_into_array(data)
        if pixels is None:
            raise PhotoError(f"{path}: the {image.format} cannot be decoded; copy the photo again")
    else:
        pixels, profile = _flat_rgb(path, image, profile)
    turn = _TURNS.get(orientation)
    return (turn(pixels) if turn else pixels), useful_profile(profile)


def _decode_into_array(data: bytes) -> np.ndarray | None:
    """The pixels (H, W, 3) uint8, RGB, that OpenCV finds in a file's bytes; None when it finds none.

    Asked for a file, OpenCV decodes straight into the array; asked for bytes, it decodes elsewhere and copies, which
    takes half as long again and twice the memory. So where there are files in memory (Linux), the bytes become one.
    """
    if hasattr(os, "memfd_create"):
        with suppress(OSError), os.fdopen(os.memfd_create("photo"), "wb") as file:  # there may be no room for one
            file.write(data)
            file.flush()
            pixels = cv2.imread(f"/proc/self/fd/{file.fileno()}", None, _AS_STORED)
            if pixels is not None:
                return pixels
    return cv2.imdecode(np.frombuffer(data, np.uint8), _AS_STORED)


def _check_size(path: Path, width: int, height: int, max_megapixels: float, kind: str = "") -> None:
    if width * height > max_megapixels * 1e6:
        raise PhotoError(
            f"{path}: {width} x {height} pixels is more than {max_megapixels:g} megapixels{kind}; "
            "make it smaller, or raise the limit with --max-megapixels"
        )


def _orientation(image: Image.Image) -> int:
    try:
        value = image.getexif().get(_ORIENTATION, 1)
        return int(value) if not isinstance(value, tuple) else 1
    except Exception:  # a broken EXIF block raises almost anything; the picture itself is still good
        return 1


def _flat_rgb(path: Path, image: Image.Image, profile: bytes) -> tuple[np.ndarray, bytes]:
    """Any Pillow image as (H, W, 3) uint8, and the RGB profile still to be applied."""
    image.seek(0)
    image.load()
    if image.mode == "CMYK":
        return _from_cmyk(image, profile), b""
    if image.mode.startswith("I") or image.mode == "F":
        return _from_deep_grey(path, image), b""
    if image.mode in ("L", "1"):
        profile = b""  # a grey profile says nothing of colours
    return _in_bands(image), profile


def _in_bands(image: Image.Image) -> np.ndarray:
    """A loaded image as (H, W, 3) uint8, transparency laid on white; band by band, so that no second copy is held."""
    transparent = image.mode in ("LA", "PA", "RGBA", "La", "RGBa") or "transparency" in image.info
    pixels = np.empty((image.height, image.width, 3), np.uint8)
    for top in range(0, image.height, _BAND):
        band = image.crop((0, top, image.width, min(top + _BAND, image.height)))
        if transparent:
            ground = Image.new("RGBA", band.size, "white")
            ground.alpha_composite(band.convert("RGBA"))
            band = ground
        pixels[top : top + _BAND] = band.convert("RGB")
    return pixels


def _from_cmyk(image: Image.Image, profile: bytes) -> np.ndarray:
    from PIL import ImageCms

    if profile:
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            return np.array(ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), outputMode="RGB"))
        except (ImageCms.PyCMSError, OSError, ValueError):
            pass  # an unusable profile: the plain conversion below
    return np.array(image.convert("RGB"))


def _from_deep_grey(path: Path, image: Image.Image) -> np.ndarray:
    grey = np.asarray(image, np.float32)
    if image.mode == "F" and np.nanmax(grey, initial=0) <= 1.0:
        grey = grey * 65535.0
    if not np.isfinite(grey).all() or grey.min(initial=0) < 0 or grey.max(initial=0) > 65535:
        raise PhotoError(f"{path}: its brightness is not 8 or 16 bits; save it as JPEG and try again")
    return np.repeat((grey / 257.0 + 0.5).astype(np.uint8)[..., None], 3, axis=2)


def _decode_deep_tiff(path: Path, data: bytes, max_megapixels: float) -> np.ndarray:
    """What Pillow does not know: TIFF of 16 bits a channel, through OpenCV once its header is found modest. File and
    pixels are twice as large as others, so half as many pixels are allowed."""
    size = _tiff_size(data)
    if size is None:
        raise PhotoError(f"{path}: not a picture (JPEG, PNG, TIFF, WebP or HEIC)")
    _check_size(path, *size, max_megapixels / 2, " of this kind")
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), _AS_STORED)
    if pixels is None:
        raise PhotoError(f"{path}: this kind of TIFF cannot be decoded; save it as JPEG and try again")
    return pixels


def _tiff_size(data: bytes) -> tuple[int, int] | None:
    """Width and height from a classic TIFF's first directory (TIFF 6.0, section 2); None when it is no such file."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(data[:4])
    if order is None:
        return None
    start = struct.unpack_from(order + "I", data, 4)[0]
    found: dict[int, int] = {}
    for k in range(struct.unpack_from(order + "H", data, start)[0]):
        entry = start + 2 + 12 * k
        tag, kind = struct.unpack_from(order + "HH", data, entry)
        if tag in (256, 257):
            found[tag] = struct.unpack_from(order + ("H" if kind == 3 else "I"), data, entry + 8)[0]
    return (found[256], found[257]) if len(found) == 2 and min(found.values()) > 0 else None


def _jpeg_is_whole(data: bytes) -> bool:
    """Whether the marker segments (ITU-T T.81, annex B) lead to an end-of-image marker.

    Decoders fill what is missing with grey and say nothing. What follows it (makers add their own) is let be.
    """
    at = 2
    while True:
        found = _JPEG_MARKER.search(data, at)
        if found is None:
            return False
        marker = data[found.start() + 1]
        if marker == 0xD9:
            return True
        at = found.end()
        if marker not in (0x01, 0xD8):
            if at + 2 > len(data):
                return False
            at += struct.unpack_from(">H", data, at)[0]


@contextmanager
def _quiet_pillow():
    """Our own limit and our own one line replace Pillow's limit and its warnings."""
    limit, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        Image.MAX_IMAGE_PIXELS = limit


def _formats() -> tuple[str, ...]:
    return tuple(name for name in (*_FORMATS, "HEIF") if name in Image.OPEN or name != "HEIF")


def _allow_heif(path: Path) -> None:
    try:
        import pillow_heif
    except ImportError:
        raise PhotoError(
            f'{path}: is HEIC; install the reader with pip install "ribbonbar[heic]", or save it as JPEG'
        ) from None
    pillow_heif.register_heif_opener(thumbnails=False)


def _short(error: BaseException) -> str:
    return " ".join(str(error).split())[:120] or type(error).__name__
