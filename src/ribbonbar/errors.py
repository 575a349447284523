"""What can go wrong, said in one line, with the exit status that belongs to it."""

from enum import IntEnum


class Exit(IntEnum):
    """Exit statuses of the command line."""

    SETTLED = 0
    """In order, or nothing left open."""
    BROKEN = 1
    """Out of order, a rule broken, or a specification with faults."""
    UNUSABLE = 2
    """Unusable input or options."""
    UNCONFIRMED = 3
    """Nothing proved wrong, but something could not be settled; or no bar found."""
    INTERRUPTED = 130
    """Stopped with Ctrl-C."""


class RibbonbarError(Exception):
    """Base of every error this package raises on purpose.

    The text is one line for a person: what is wrong, where (file, table, line; or photo, position) and what to do.
    """

    exit_status = Exit.UNUSABLE


class PhotoError(RibbonbarError):
    """A picture file cannot be used."""


class SpecError(RibbonbarError):
    """A specification file cannot be used."""


class RecordError(RibbonbarError):
    """A record or work order cannot be used."""


class OptionError(RibbonbarError):
    """Options that do not fit together, or name something that does not exist."""


class OutputError(RibbonbarError):
    """An output file cannot be written where it was asked for."""
