"""Plain matchers to be ahead of. Each is given the true outline of every ribbon and may never say "not sure".

They see a ribbon's quad made flat and the catalogue drawn flat, both ways round; each answers with one award.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from skimage.color import lab2rgb, rgb2lab

from ribbonbar.spec.model import Specification
from tests.simulator.catalogue import sketch

WIDE, HIGH = 96, 30
NAMES = ("template correlation", "colour histogram", "mean column profile", "local features")


@dataclass(frozen=True)
class Templates:
    """The catalogue drawn flat, N templates (each ribbon both ways round).

    ``strips`` (N, 4, 64, 3) float32 sRGB 0..255, ``plain`` where one holds a single colour (correlation is undefined
    there); ``histograms`` (N, 512); ``profiles`` (N, 64, 3) L*a*b*; ``features`` SIFT descriptors or None.
    """

    awards: list[str]
    strips: np.ndarray
    plain: np.ndarray
    histograms: np.ndarray
    profiles: np.ndarray
    features: list[np.ndarray | None]


def templates_of(specification: Specification) -> Templates:
    """Draw every matchable ribbon of the specification."""
    awards, flats = [], []
    for key, award in specification.awards.items():
        for ribbon in award.ribbons:
            if ribbon.shape == "unmatched":
                continue
            drawn = np.clip(lab2rgb(sketch(ribbon, WIDE, HIGH)), 0, 1)
            flat = np.round(drawn * 255).astype(np.uint8)
            awards += [key, key]
            flats += [flat, np.ascontiguousarray(flat[:, ::-1])]
    sift = cv2.SIFT_create()
    strips = np.stack([_strip(f) for f in flats]).astype(np.float32)
    return Templates(
        awards,
        strips,
        strips.std((1, 2)).max(1) < 1,
        np.stack([_histogram(f) for f in flats]),
        np.stack([_profile(f) for f in flats]),
        [_features(sift, f) for f in flats],
    )


def answers(pixels: np.ndarray, corners, templates: Templates) -> dict[str, str | None]:
    """Each baseline's award for the ribbon with these corners (4, 2) in ``pixels`` (H, W, 3) uint8 sRGB."""
    flat = _flat(pixels, corners, WIDE, HIGH)
    return {
        "template correlation": _by_correlation(flat, templates),
        "colour histogram": _by_histogram(flat, templates),
        "mean column profile": _by_profile(_grey_world(flat, pixels), templates),
        "local features": _by_features(flat, templates),
    }


def _flat(pixels: np.ndarray, corners, width: int, height: int) -> np.ndarray:
    """The quad made flat; an enlarged canvas shrunk by area, so that cloth does not alias."""
    big = (width * 3, height * 3)
    goal = np.float32([[0, 0], [big[0], 0], [big[0], big[1]], [0, big[1]]])
    matrix = cv2.getPerspectiveTransform(np.float32(corners), goal)
    return cv2.resize(cv2.warpPerspective(pixels, matrix, big), (width, height), interpolation=cv2.INTER_AREA)


def _strip(flat: np.ndarray) -> np.ndarray:
    return cv2.resize(flat[3:-3], (64, 4), interpolation=cv2.INTER_AREA)


def _by_correlation(flat: np.ndarray, templates: Templates) -> str:
    """Normalised correlation of a four-row colour strip, sliding a little sideways (OpenCV)."""
    strip = cv2.copyMakeBorder(_strip(flat), 0, 0, 2, 2, cv2.BORDER_REPLICATE).astype(np.float32)
    scores = [
        0.0 if flat_one else cv2.matchTemplate(strip, t, cv2.TM_CCOEFF_NORMED).max()
        for t, flat_one in zip(templates.strips, templates.plain, strict=True)
    ]
    return templates.awards[int(np.argmax(scores))]


def _histogram(flat: np.ndarray) -> np.ndarray:
    lab = rgb2lab(flat[2:-2]).reshape(-1, 3)
    counts, _ = np.histogramdd(lab, bins=8, range=((0, 100), (-90, 90), (-90, 90)))
    return counts.ravel() / len(lab)


def _by_histogram(flat: np.ndarray, templates: Templates) -> str:
    """Nearest L*a*b* histogram, 8 bins each way, by intersection (scikit-image)."""
    common = np.minimum(templates.histograms, _histogram(flat)).sum(1)
    return templates.awards[int(np.argmax(common))]


def _grey_world(flat: np.ndarray, pixels: np.ndarray) -> np.ndarray:
    linear = (flat / 255.0) ** 2.2
    mean = ((pixels[::8, ::8] / 255.0) ** 2.2).mean((0, 1))
    gains = mean.mean() / np.maximum(mean, 1e-3) * (0.18 / max(mean.mean(), 1e-3)) ** 0.5
    return np.round(np.clip(linear * gains, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8)


def _profile(flat: np.ndarray) -> np.ndarray:
    line = cv2.resize(flat[4:-4].mean(0, keepdims=True).astype(np.float32), (64, 1), interpolation=cv2.INTER_AREA)
    return rgb2lab(line / 255.0)[0]


def _by_profile(flat: np.ndarray, templates: Templates) -> str:
    """Nearest mean column profile in L*a*b* after a grey-world white balance of the picture."""
    distance = np.linalg.norm(templates.profiles - _profile(flat), axis=-1).mean(1)
    return templates.awards[int(np.argmin(distance))]


def _features(sift, flat: np.ndarray) -> np.ndarray | None:
    grey = cv2.cvtColor(cv2.resize(flat, None, fx=3, fy=3, interpolation=cv2.INTER_CUBIC), cv2.COLOR_RGB2GRAY)
    return sift.detectAndCompute(grey, None)[1]


def _by_features(flat: np.ndarray, templates: Templates) -> str | None:
    """Most SIFT matches that pass the ratio test at 0.75 (Lowe 2004); None when none does."""
    seen = _features(cv2.SIFT_create(), flat)
    if seen is None:
        return None
    matcher = cv2.BFMatcher(cv2.NORM_L2)
    counts = np.zeros(len(templates.awards), int)
    for i, known in enumerate(templates.features):
        if known is not None and len(known) > 1:
            pairs = matcher.knnMatch(seen, known, k=2)
            counts[i] = sum(1 for p in pairs if len(p) == 2 and p[0].distance < 0.75 * p[1].distance)
    return templates.awards[int(counts.argmax())] if counts.max() else None
