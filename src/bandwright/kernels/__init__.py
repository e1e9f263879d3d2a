"""Compiled loops on arrays; they know no domain words."""
