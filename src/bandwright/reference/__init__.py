"""Published tables as dated data with units and provenance, and their one loader."""
