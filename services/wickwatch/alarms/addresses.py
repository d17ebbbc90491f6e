"""Where a person reads and answers alarms. Not here: links that need no sign-in (`notify.links`)."""

from __future__ import annotations

from uuid import UUID


def page(base_url: str) -> str:
    """Where a person reads and answers all that is open."""
    return f"{base_url.rstrip('/')}/alarms"


def link(base_url: str, alarm_id: UUID) -> str:
    """Where a person reads and answers one alarm."""
    return f"{page(base_url)}/{alarm_id}"
