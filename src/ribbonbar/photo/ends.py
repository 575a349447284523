"""Where each row begins and ends, decided for all rows together.

A row's last stripe may have the jacket's colour, and a shadow beside the bar looks like one more stripe. So the ground
is looked at beyond the rows' ends; columns unlike the ground (a shadow of it is not unlike) and with edges above and
below speak for the row, and rows that end nearly together are taken to end together unless they plainly do not.
"""

from dataclasses import replace

import numpy as np

from ribbonbar.photo.rows import RowFit, RowProfile, departure, row_profile

_TOGETHER = 1.3  # row heights within which ends may belong together
_PLAY = 0.12  # row heights by which rows of one bar stand beside each other


def settle_ends(features: np.ndarray, fits: list[RowFit]) -> list[RowFit]:
    """The rows with their left and right edges settled. ``features`` is the view (H, W, 3) they were fitted in."""
    width = features.shape[1]
    profiles = [row_profile(features, fit) for fit in fits]
    lefts = _settle_left(profiles, [fit.left for fit in fits], [fit.right for fit in fits])
    mirrored = [profile.mirrored() for profile in profiles]
    rights = _settle_left(mirrored, [width - fit.right for fit in fits], [width - fit.left for fit in fits])
    return [
        replace(fit, left=left, right=width - right) if width - right - left > 2 * fit.height else fit
        for fit, left, right in zip(fits, lefts, rights, strict=True)
    ]


def _settle_left(profiles: list[RowProfile], lefts: list[float], rights: list[float]) -> list[float]:
    height = float(np.median([profile.height for profile in profiles]))
    worth = []
    for profile, left, right in zip(profiles, lefts, rights, strict=True):
        ground = _ground(profile, left, min(lefts), height)
        if ground is None:
            return lefts
        worth.append(_worth(profile, ground, left, right))
    own = [float(np.argmax(values)) for values in worth]
    return [_with_the_others(k, own, worth, height) for k in range(len(own))]


def _ground(profile: RowProfile, left: float, outermost: float, height: float) -> slice | None:
    """Columns of the row's band that show what the bar lies on: beside the row itself where that is not ribbon."""
    for end in (left, outermost):
        ground = slice(max(round(end - 1.8 * height), 0), max(round(end - 0.35 * height), 0))
        if ground.stop - ground.start < max(3, 0.3 * height):
            return None
        if profile.edged[ground].mean() < -0.1:
            return ground
    return ground


def _worth(profile: RowProfile, ground: slice, left: float, right: float) -> np.ndarray:
    """For each column, what speaks for the row beginning there, in row heights; -inf where it cannot."""
    height = profile.height
    away = departure(profile.colours, np.median(profile.colours[ground], axis=0))
    unlike = np.clip((away - profile.noise) / 4, 0, 1)
    gain = unlike - 0.45 + 0.5 * np.clip(profile.edged, -0.5, 0.8)
    last = int(min(left + 4 * height, right - 1))
    worth = np.full(len(gain), -np.inf)
    first = int(max(left - 1.3 * height, 1))
    worth[first : last + 1] = np.cumsum(gain[last : first - 1 : -1])[::-1] / height
    return worth + 0.4 * profile.stripe


def _with_the_others(k: int, own: list[float], worth: list[np.ndarray], height: float) -> float:
    """Row ``k``'s end, moved to where the rows that end near it end, unless that is plainly worse for it."""
    near = [j for j in range(len(own)) if abs(own[j] - own[k]) < _TOGETHER * height]
    if len(near) < 2:
        return own[k]

    def loss(j: int, column: float) -> float:
        low = max(round(column - _PLAY * height), 0)
        return worth[j][round(own[j])] - float(worth[j][low : round(column + _PLAY * height) + 1].max())

    def together(column: float) -> float:
        # a stripe of the ground's colour hides an end, but nothing feigns a stripe: going outward costs less
        return sum(loss(j, column) * (0.3 if column < own[j] else 1.0) for j in near)

    shared = min((own[j] for j in near), key=together)
    if loss(k, shared) > (0.5 if shared < own[k] else 0.3):
        return own[k]
    low = max(round(shared - _PLAY * height), 0)
    return float(low + int(np.argmax(worth[k][low : round(shared + _PLAY * height) + 1])))
