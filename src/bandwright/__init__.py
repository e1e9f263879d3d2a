"""Bandwright: every radio link of a production legally and cleanly on the air, and written down."""

__version__ = "0.1.0"
