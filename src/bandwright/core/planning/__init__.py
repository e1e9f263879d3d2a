"""From a job and its sweeps to a problem, and from carriers to a verdict with evidence."""
