"""Published tables as dated data with units and provenance, and their one loader."""

from bandwright.reference.tables import (
    analyser_files,
    generic_class,
    generic_classes,
    kit_files,
    raster,
    rasters,
    reach_tables,
    rule_table,
    rule_tables,
    sound_tables,
)

__all__ = [
    "analyser_files",
    "generic_class",
    "generic_classes",
    "kit_files",
    "raster",
    "rasters",
    "reach_tables",
    "rule_table",
    "rule_tables",
    "sound_tables",
]
