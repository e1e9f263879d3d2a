"""Published tables as dated data with units and provenance, and their one loader."""

from bandwright.reference.tables import (
    generic_class,
    generic_classes,
    kit_files,
    raster,
    rasters,
    rule_table,
    rule_tables,
)

__all__ = ["generic_class", "generic_classes", "kit_files", "raster", "rasters", "rule_table", "rule_tables"]
