"""The place as it is stored: read for judgement (`fleet_read`), brought to what is declared (`fleet_apply`).

This module only gives both one name, `store.fleet`.
"""

from wickwatch.store.fleet_apply import apply, apply_declared, lock
from wickwatch.store.fleet_declared import declared
from wickwatch.store.fleet_read import Site, facilities, facility_by_slug, load_facility

__all__ = [
    "Site",
    "apply",
    "apply_declared",
    "declared",
    "facilities",
    "facility_by_slug",
    "load_facility",
    "lock",
]
