"""The process that carries queued notices to people."""
