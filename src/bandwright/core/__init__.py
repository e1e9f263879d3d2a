"""Pure values and computations: no files, no clock, no printing."""
