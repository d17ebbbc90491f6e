"""What kinds of alarms and of work, and priorities, are called in the title of a message and in a table.

Not here: headings of pages (`web.views.words`), or whole sentences (`message`, `ending`).
"""

from __future__ import annotations

from wickwatch.alarms.model import Priority
from wickwatch.texts import N_, Words, pgettext

KINDS = Words(
    {
        "drying-drift": N_("drying drift"),
        "sudden-wetting": N_("sudden wetting"),
        "reservoir-low": N_("reservoir low"),
        "reservoir-empty": N_("reservoir empty"),
        "reservoir-leak": N_("reservoir leak"),
        "supply-interrupted": N_("supply interrupted"),
        "uneven-room": N_("uneven room"),
        "probe-silent": N_("probe silent"),
        "probe-fault": N_("probe fault"),
        "gateway-silent": N_("gateway silent"),
        "monitoring-stopped": N_("monitoring stopped"),
    }
)

WORK = Words(
    {
        "refilled": N_("refilled"),
        "purged": N_("purged"),
        "cleaned-filter": N_("cleaned filter"),
        "opened-valve": N_("opened valve"),
        "mended-leak": N_("mended leak"),
        "re-set-emitter": N_("re-set emitter"),
        "replaced-emitter": N_("replaced emitter"),
        "watered-by-hand": N_("watered by hand"),
        "refilled-probe": N_("refilled probe"),
        "replaced-probe": N_("replaced probe"),
        "moved-probe": N_("moved probe"),
        "set-up": N_("set up"),
        "pruned": N_("pruned"),
        "removed-plant": N_("removed plant"),
        "maintenance": N_("maintenance"),
        "checked": N_("checked"),
    }
)


def priority(name: Priority) -> str:
    """A priority."""
    match name:
        case "high":
            return pgettext("priority", "High")
        case "medium":
            return pgettext("priority", "Medium")
        case "low":
            return pgettext("priority", "Low")
