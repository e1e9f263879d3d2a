"""Bandwright: carriers for every radio link of a production, whether they reach and sound right, and the sheets."""

__version__ = "0.1.0"
