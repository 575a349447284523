"""Property tests here are not timed: on a busy machine a slow example is no failure."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
