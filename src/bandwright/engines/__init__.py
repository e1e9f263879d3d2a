"""Search for plans; every answer is verified by `core.planning` before it leaves."""
