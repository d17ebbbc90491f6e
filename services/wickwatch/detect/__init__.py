"""From windows of readings to findings: pure, deterministic, no database, clock or network."""
