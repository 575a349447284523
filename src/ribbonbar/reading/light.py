"""The light of one bar: one affine map from the specification's cube-root colours to the photograph's."""

from dataclasses import dataclass
from itertools import product

import numpy as np

from ribbonbar.reading.observe import root

MEAN_GAIN, MEAN_OFFSET = 0.85, 0.10
"""Where phones expose cloth and lift its blacks, cube-root light; the priors below are wide around it."""
COMMON_GAIN, OWN_GAIN, CROSS_GAIN = 0.22, 0.12, 0.07
COMMON_OFFSET, OWN_OFFSET = 0.10, 0.06
TONE_NOISE = 0.05
"""A dye lot's departure in cube-root light: CIEDE2000 of 3 to 5, as between lots of one dye."""


@dataclass(frozen=True)
class Light:
    """``seen = gain @ expected + offset`` in cube-root light; ``gain`` (3, 3), ``offset`` (3,)."""

    gain: np.ndarray
    offset: np.ndarray

    def shine(self, expected: np.ndarray) -> np.ndarray:
        """What the camera would see of ``expected`` (..., 3); never above what it can hold."""
        return np.minimum(expected @ self.gain.T + self.offset, CEILING).astype(np.float32)

    def shine_by_channel(self, expected: np.ndarray) -> np.ndarray:
        """The same of ``expected`` (3, ...), a channel after the other."""
        seen = self.gain @ expected.reshape(3, -1)
        seen += self.offset[:, None]
        return np.minimum(seen, CEILING, out=seen).reshape(expected.shape)

    def take_out(self, seen: np.ndarray) -> np.ndarray:
        """The inverse: colours (..., 3) with the light taken out, cube-root light."""
        return np.clip((seen - self.offset) @ np.linalg.inv(self.gain).T, 0.0, CEILING)

    def apart(self, other: "Light") -> float:
        """By how much, at most, the two change what is seen of dark and light colours, cube-root light."""
        return float(np.abs(_CORNERS @ (self.gain - other.gain).T + self.offset - other.offset).max())


_CORNERS = np.array(list(product((0.3, 0.8), repeat=3)), np.float32)
CEILING = float(root(np.array(1.0)))
NEUTRAL = Light(np.eye(3, dtype=np.float32) * MEAN_GAIN, np.full(3, MEAN_OFFSET, np.float32))


def _prior_precision() -> np.ndarray:
    """Precision (12, 12) of the light's parameters, row by row ``[gain row, offset]``."""
    covariance = np.zeros((12, 12))
    for i in range(3):
        for j in range(3):
            covariance[4 * i + j, 4 * i + j] += OWN_GAIN**2 if i == j else CROSS_GAIN**2
            covariance[4 * i + i, 4 * j + j] += COMMON_GAIN**2
            covariance[4 * i + 3, 4 * j + 3] += COMMON_OFFSET**2
        covariance[4 * i + 3, 4 * i + 3] += OWN_OFFSET**2
    return np.linalg.inv(covariance)


_PRECISION = _prior_precision()
_MEAN = np.array([[MEAN_GAIN if i == j else 0.0 for j in range(3)] + [MEAN_OFFSET] for i in range(3)]).ravel()


def fit_light(expected: np.ndarray, seen: np.ndarray, weight: np.ndarray, clipped: np.ndarray) -> Light:
    """The most probable light given pairs of colours (M, 3), robust to pairs that do not belong (Student weights).

    ``weight`` (M,) says how many independent observations a pair is worth; ``clipped`` (M, 3) bool marks channels
    at the camera's ceiling, which say only that the light is at least so strong.
    """
    design = np.c_[expected, np.ones(len(expected))]
    parameters = _MEAN.reshape(3, 4)
    for _ in range(6):
        error = seen - design @ parameters.T
        counts = ~clipped | (error > 0.0)
        trust = weight / (1.0 + (error**2 * counts).sum(1) / (3 * (1.6 * TONE_NOISE) ** 2)) / TONE_NOISE**2
        precision, pull = _PRECISION.copy(), _PRECISION @ _MEAN
        for channel in range(3):
            w = trust * counts[:, channel]
            block = slice(4 * channel, 4 * channel + 4)
            precision[block, block] += (design * w[:, None]).T @ design
            pull[block] += (design * w[:, None]).T @ seen[:, channel]
        parameters = np.linalg.solve(precision, pull).reshape(3, 4)
    return Light(parameters[:, :3].astype(np.float32), parameters[:, 3].astype(np.float32))
