"""From findings and work to alarm states: pure, deterministic, no database, clock or network."""
