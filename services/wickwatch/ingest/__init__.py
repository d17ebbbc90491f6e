"""The process that takes readings from the broker into the database."""
