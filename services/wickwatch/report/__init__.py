"""The weekly trend report."""
