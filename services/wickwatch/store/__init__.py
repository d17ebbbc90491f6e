"""All SQL, one module for each family of tables."""

from wickwatch.store.migrate import migrate, pending

__all__ = [
    "migrate",
    "pending",
]
