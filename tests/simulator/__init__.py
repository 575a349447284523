"""A simulator of photographs of ribbon bars: cloth, light, lens, sensor and file, with what is true of each picture.

It is written apart from the package's own drawing and reading, so that it checks them; all it shares with the package
is the specification's model. Everything is drawn from a seed: the same arguments give the same picture.

    from tests.simulator import simulate
    photograph = simulate(level=2, seed=5)

On the command line: ``python -m tests.simulator --level 2 --seed 5 --count 10 --out FOLDER``.
"""

from tests.simulator.catalogue import invent
from tests.simulator.photograph import Photograph, simulate

__all__ = ["Photograph", "invent", "simulate"]
