"""Reads a photographed ribbon bar and checks it against the published order of wear."""

__version__ = "0.1.0"
