"""``--debug-folder``: the pictures between the stages, for a person who wants to know why."""

import io
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from ribbonbar.audit import Catalogue, find, flat_strips, read_bars
from ribbonbar.options import AuditOptions
from ribbonbar.output import write_whole
from ribbonbar.photo.finding import Search
from ribbonbar.photo.model import Picture, Strip
from ribbonbar.reading.decode import Shone
from ribbonbar.reading.observe import TOE, cut
from ribbonbar.reading.read import ReadRow, read_rows
from ribbonbar.reading.weigh import weigh
from ribbonbar.spec.colour import srgb_from_linear, srgb_profile

ENLARGED = 6
"""How much larger than the decoder's cells they are shown."""
SHOWN = 3
"""Templates shown under each ribbon, the likeliest first."""
LONG_SIDE = 2000


def write_pictures(
    folder: Path, picture: Picture, catalogue: Catalogue, options: AuditOptions, force: bool = False
) -> list[Path]:
    """Write the intermediate pictures into ``folder`` and return their paths.

    ``candidates.png``: every place looked at for a bar, numbered by score. ``barN-rowM-strip.png``: the row made flat,
    with the ends as found (white) and the ribbons as divided (black). ``barN-rowM-ribbons.png``: for each ribbon the
    cells as seen, the same without what was taken for an emblem, then the likeliest templates under the bar's light.
    Raises OutputError when a file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    catalogue = catalogue.asked(options.order_of_wear)
    search = Search(picture)
    written = [_write(folder / "candidates.png", _candidates(search), force)]
    found = find(search, options.corners)
    bars = read_bars(search, found, catalogue, by_hand=options.corners is not None)
    # where nothing was believed to be a bar, what was found is shown
    flat = [bar.strips for bar in bars] or [flat_strips(picture, bar) for bar in found]
    for b, strips in enumerate(flat, 1):
        shone, rows = read_rows(strips, catalogue.bank)
        for r, (strip, row) in enumerate(zip(strips, rows, strict=True), 1):
            name = f"bar{b}-row{r}"
            written.append(_write(folder / f"{name}-strip.png", _strip(strip, row), force))
            written.append(_write(folder / f"{name}-ribbons.png", _ribbons(row, shone), force))
    return written


def _candidates(search: Search) -> np.ndarray:
    picture = search.picture
    scale = min(1.0, LONG_SIDE / max(picture.width, picture.height))
    size = (round(picture.width * scale), round(picture.height * scale))
    shown = cv2.resize(picture.srgb(), size, interpolation=cv2.INTER_AREA)
    for number, candidate in enumerate(search.candidates(), 1):
        for row in candidate.rows:
            cv2.polylines(shown, [np.int32(np.round(row * scale))], True, (0, 255, 0), 1)
        corner = candidate.region.corners()[0] * scale
        cv2.polylines(shown, [np.int32(np.round(candidate.region.corners() * scale))], True, (255, 255, 0), 1)
        place = (int(corner[0]), max(int(corner[1]) - 4, 12))
        cv2.putText(shown, f"{number}: {candidate.score:.1f}", place, cv2.FONT_HERSHEY_SIMPLEX, 0.5, (255, 255, 0), 1)
    return shown


def _strip(strip: Strip, row: ReadRow) -> np.ndarray:
    shown = _encoded(strip.pixels.repeat(2, axis=0).repeat(2, axis=1))
    lines = [(row.view.start, 255), (row.view.end, 255), *((edge, 0) for edge in row.decoded.division.edges)]
    for place, colour in lines:
        x = int(np.clip(round(float(row.view.on_strip(place)) * shown.shape[1]), 0, shown.shape[1] - 1))
        shown[:, max(x - 1, 0) : x + 1] = colour
    return shown


def _ribbons(row: ReadRow, shone: Shone) -> np.ndarray:
    loom, light = shone.loom, shone.light
    edges = row.decoded.division.edges
    segments = cut(row.view, edges[:-1], edges[1:])
    columns = []
    for number in range(len(edges) - 1):
        cells, cloth = segments.cells[number], segments.cloth[number][..., None]
        tiles = [cells, np.where(cloth > 0, cells, 0.0)]
        for weighed in weigh(segments, number, row.decoded.evidence[number], loom, light)[:SHOWN]:
            upright = len(loom.vertical)
            template = weighed.template
            woven = loom.vertical[template] if template < upright else loom.slanted(np.array([template - upright]))[0]
            tiles.append(np.broadcast_to(light.shine(woven), cells.shape))
        tiles += [np.zeros_like(cells)] * (2 + SHOWN - len(tiles))
        columns.append(np.concatenate([np.pad(tile, ((0, 1), (0, 2), (0, 0))) for tile in tiles]))
    shown = np.concatenate(columns, axis=1).repeat(ENLARGED, axis=0).repeat(ENLARGED // 2, axis=1)
    return _encoded(np.maximum(shown**3 - TOE, 0.0))


def _encoded(linear: np.ndarray) -> np.ndarray:
    return np.uint8(np.round(np.clip(srgb_from_linear(linear), 0.0, 1.0) * 255))


def _write(path: Path, pixels: np.ndarray, force: bool) -> Path:
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "PNG", icc_profile=srgb_profile())
    write_whole(path, buffer.getvalue(), force)
    return path
