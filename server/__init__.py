"""Midlimit: what is left to cut, what to dial, and whether to trust the reading."""

__version__ = "0.1.0"
