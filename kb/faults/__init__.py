"""Statistics on counts of faults."""
