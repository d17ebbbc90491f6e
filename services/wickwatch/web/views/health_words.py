"""What parts of the program, their jobs, and reasons to refuse readings are called on the health page.

Their codes, which logs and metrics use, are shown beside these. Not here: what is accepted instead of what was refused
(`ingest.reasons`).
"""

from __future__ import annotations

from wickwatch.texts import N_, Words

#: What each part does.
PARTS = Words(
    {
        "ingest": N_("Takes readings in"),
        "watch": N_("Judges readings"),
        "notify": N_("Calls people"),
        "web": N_("Shows pages"),
        "report": N_("Makes reports"),
    }
)

#: What runs again and again.
JOBS = Words({"sweep": N_("Regular look at all readings")})

#: What is wrong with what was refused.
REFUSED = Words(
    {
        "topic": N_("Sent to an unknown topic"),
        "unknown-facility": N_("Unknown facility"),
        "too-large": N_("Pack too large"),
        "not-json": N_("Not readable as JSON"),
        "not-cbor": N_("Not readable as CBOR"),
        "not-senml": N_("Not in the form of SenML"),
        "version": N_("Unknown version of SenML"),
        "name": N_("Name in a wrong form"),
        "quantity": N_("Unknown quantity"),
        "unit": N_("Wrong unit"),
        "no-full-scale": N_("Full scale not set"),
        "not-finite": N_("Value that is no number"),
        "out-of-range": N_("Impossible value"),
        "future": N_("Time in the future"),
        "too-old": N_("Time too long ago"),
        "status": N_("Unknown status of a gateway"),
        "internal": N_("Failure of this program"),
    }
)
