"""The small catalogue's templates, made once."""

import pytest

from ribbonbar.reading.decode import set_up, shine_on
from ribbonbar.reading.light import NEUTRAL
from ribbonbar.reading.templates import bank_of
from tests.reading.cloth import catalogue


@pytest.fixture(scope="session")
def loom():
    return set_up(bank_of(catalogue()), 6.0)


@pytest.fixture(scope="session")
def shone(loom):
    return shine_on(loom, NEUTRAL)
