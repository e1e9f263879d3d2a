"""How fast Bandwright is on this machine: `make bench`."""
