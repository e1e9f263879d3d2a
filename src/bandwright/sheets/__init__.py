"""Values to text, HTML, PDF and drawings."""
