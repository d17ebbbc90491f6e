"""A score as a table for people and as JSON for programs.

Not here: the comparison itself (`score`).
"""

from __future__ import annotations

from typing import Any

from wickwatch_simulator.score import Score, Tally

HEADINGS = (
    "kind", "events", "found", "missed", "recall", "delay min", "p95 min",
    "calls", "right", "follow", "false", "precision", "false/room-month",
)  # fmt: skip


def as_json(score: Score) -> dict[str, Any]:
    """All figures, delays in minutes; a figure that can't be told is null."""
    room_months = score.rooms * score.months
    return {
        "rooms": score.rooms,
        "months": round(score.months, 4),
        "room_months": round(room_months, 2),
        "kinds": {kind: _figures(tally, room_months) for kind, tally in score.kinds.items()},
        "run_outs": {"events": score.run_outs, "foretold": score.foretold},
        "false_calls": len(score.false),
        "false_per_room_month": round(score.false_per_room_month, 5),
        "mistaken": {
            event: {"events": score.seen[event], "by_kind": kinds} for event, kinds in sorted(score.mistaken.items())
        },
        "events_seen": dict(sorted(score.seen.items())),
        "missed": [
            {"event": e.event, "facility": e.facility, "room": sorted(e.rooms)[0], "subject": sorted(e.names)[0],
             "from": e.begin.isoformat()} for e in score.missed
        ],
        "false": [
            {"kind": c.kind, "facility": c.facility, "room": c.room, "subject": sorted(c.names),
             "raised_at": c.raised.isoformat()} for c in score.false
        ],
    }  # fmt: skip


def _figures(tally: Tally, room_months: float) -> dict[str, Any]:
    return {
        "events": tally.events,
        "found": tally.found,
        "missed": tally.events - tally.found,
        "recall": _rounded(tally.recall),
        "delay_median_min": _rounded(tally.delay(50)),
        "delay_p95_min": _rounded(tally.delay(95)),
        "calls": tally.calls,
        "right": tally.right,
        "consequences": tally.consequences,
        "false": tally.false,
        "precision": _rounded(tally.precision),
        "false_per_room_month": round(tally.false / room_months, 5),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def as_text(score: Score) -> str:
    """A table per kind, then run-outs, false calls and what was mistaken."""
    rows = [HEADINGS]
    for kind, f in as_json(score)["kinds"].items():
        rows.append((kind, *("-" if value is None else f"{value:g}" for value in f.values())))
    widths = [max(len(row[i]) for row in rows) for i in range(len(HEADINGS))]
    lines = [
        "  ".join(c.ljust(w) if i == 0 else c.rjust(w) for i, (c, w) in enumerate(zip(r, widths, strict=True)))
        for r in rows
    ]
    lines += [
        "",
        f"rooms {score.rooms}, months {score.months:.2f}",
        f"run-outs {score.run_outs}, foretold by reservoir-low in time {score.foretold}",
        f"false calls {len(score.false)}, per room and month {score.false_per_room_month:.4f}",
    ]
    for event, kinds in sorted(score.mistaken.items()):
        said = ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.items()))
        lines.append(f"mistaken: {event} ({score.seen[event]} events) for {said}")
    return "\n".join(lines)
