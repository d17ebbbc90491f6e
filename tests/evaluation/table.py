"""The table of how well the detectors judge, as Markdown; what people wrote below it is kept.

Not here: the figures (`measures`).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tests.evaluation.measures import Figure, Measures
from tests.evaluation.slices import Part, Slice
from wickwatch_simulator.catalogue import EVENTS

#: What stands below this line in the file was written by hand and stays.
NOTES = "## Notes"


def markdown(measured: Measures, part: Part, slices: Sequence[Slice], date: str, machine: str, took_s: float) -> str:
    """The whole table."""
    faults, harmless = (
        sum(n for name, n in measured.seen.items() if name in EVENTS and (EVENTS[name].alarm is None) == calm)
        for calm in (False, True)
    )
    lines = [
        "# How well the detectors judge",
        "",
        f'Written by `make evaluate ARGS="--part {part} --out …"` on {date}, {machine}, in {took_s / 60:.0f} minutes.',
        f"{measured.rooms} simulated rooms, {measured.room_months:.0f} room-months, {faults} injected faults and"
        f" {harmless} injected harmless events (refills not counted), from seeds that nothing was tuned on."
        if part == "reporting"
        else f"{measured.rooms} simulated rooms, {measured.room_months:.0f} room-months, {faults} faults,"
        f" {harmless} harmless events: the part that detectors are tuned on.",
        "",
        "## What must be reached",
        "",
        "| figure | measured | of | asked | reached |",
        "| --- | ---: | ---: | --- | --- |",
        *(_row(figure) for figure in measured.must_reach()),
        "",
        "## Kinds of alarm",
        "",
        "| kind | events | recall | precision | delay median, min | delay 95 %, min | calls | right | follow | false"
        " | false / room-month |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for kind, tally in measured.kinds().items():
        figures = (tally.recall, tally.precision, tally.delay(50), tally.delay(95))
        shown = " | ".join(_plain(value, 3 if n < 2 else 0) for n, value in enumerate(figures))
        lines.append(
            f"| {kind} | {tally.events} | {shown} | {tally.calls} | {tally.right} | {tally.consequences} |"
            f" {tally.false} | {tally.false / measured.room_months:.4f} |"
        )
    lines += ["", "## Sorts of fault", "", "| injected | events | found | recall |", "| --- | ---: | ---: | ---: |"]
    lines += [
        f"| {name} | {count} | {found} | {found / count:.3f} |" for name, (count, found) in measured.by_event().items()
    ]
    lines += ["", "## Intervals", "", "| forecast | compared | events | within | came earlier | came later |"]
    lines.append("| --- | ---: | ---: | ---: | ---: | ---: |")
    for what, seen in measured.coverage.items():
        name = {"empty": "time to empty", "dry-limit": "time to dry limit"}[what]
        lines.append(
            f"| {name} | {seen.forecasts} | {seen.events} | {_plain(seen.share, 3)} | {seen.below} | {seen.above} |"
        )
    lines += ["", "## What was simulated", "", "| seed | facility | rooms | interval, s | from | days |"]
    lines.append("| ---: | --- | ---: | ---: | --- | ---: |")
    lines += [
        f"| {each.seed} | {each.facility} | {each.rooms} | {each.interval_s} | {each.start:%Y-%m-%d} | {each.days:g} |"
        for each in slices
    ]
    return "\n".join([*lines, ""])


def write(path: Path, text: str) -> None:
    """Write the table to a file, and below it the notes that the file had."""
    before = path.read_text(encoding="utf-8") if path.exists() else ""
    notes = before[before.index(NOTES) :] if NOTES in before else f"{NOTES}\n"
    path.write_text(f"{text}\n{notes}", encoding="utf-8")


def _row(figure: Figure) -> str:
    asked = []
    if figure.least is not None:
        asked.append(f"≥ {figure.least:g}")
    if figure.most is not None:
        asked.append(f"≤ {figure.most:g}")
    reached = {None: "", True: "yes", False: "**no**"}[figure.reached]
    unit = f" {figure.unit}" if figure.unit else ""
    measured = "-" if figure.value is None else f"{figure.value:.{1 if unit else 3}f}{unit}"
    return f"| {figure.what} | {measured} | {figure.of} | {', '.join(asked)}{unit if asked else ''} | {reached} |"


def _plain(value: float | None, digits: int) -> str:
    return "-" if value is None else f"{value:.{digits}f}"
