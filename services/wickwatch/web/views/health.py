"""The health of the whole for who keeps it running: parts, jobs, what waits, what was refused, gateways, batteries.

What is out of order is told in words, and counted in the headline. Not here: reading the rows (`store.health`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from wickwatch.fleet import Rules
from wickwatch.store.health import BatteryRow, GatewayRow, JobRow, LagRow, RefusedRow
from wickwatch.store.jobs import NEEDED, Beat
from wickwatch.web.views import words
from wickwatch.web.views.times import Moment, ago, moment, span
from wickwatch.web.views.watching import SWEEP_LATE, Banner

#: What people call each part.
PARTS: Mapping[str, str] = {
    "ingest": "Takes readings in",
    "watch": "Judges readings",
    "notify": "Calls people",
    "web": "Shows pages",
    "report": "Makes reports",
}

#: Readings are rolled up within a sweep or two; what waits longer is late.
_LAG_LATE = timedelta(minutes=2)

#: A notice due for longer than this is late.
_NOTICE_LATE = timedelta(minutes=2)

#: Less room than this on the disk is to be looked at, as the watch sees it (`watch.health`).
_DISK_LEAST_BYTES = 1_000_000_000

#: A battery below this is due for a new one: by the rule's default, and in volts for two alkaline cells (common
#: practice).
_BATTERY_LEAST = {"%EL": Rules().battery_low_percent, "V": 2.4}


@dataclass(frozen=True)
class Line:
    """One thing that is well or not: `well` false asks to look, and `said` tells why."""

    name: str
    said: str
    well: bool
    detail: str = ""


@dataclass(frozen=True)
class Refused:
    """One refused pack; `payload` is its beginning as text, or as hexadecimal digits where it is none."""

    id: int
    at: Moment
    facility: str
    topic: str
    reason: str
    accepted: str
    detail: str
    records: str
    payload: str
    cut: str


@dataclass(frozen=True)
class HealthPage:
    """The whole page."""

    headline: str
    parts: tuple[Line, ...]
    jobs: tuple[Line, ...]
    lags: tuple[Line, ...]
    gateways: tuple[Line, ...]
    batteries: tuple[Line, ...]
    machine: tuple[Line, ...]
    reasons: tuple[tuple[str, int], ...]
    reason: str
    refused: tuple[Refused, ...]
    older: int | None
    banners: tuple[Banner, ...]


def headline(*groups: Sequence[Line]) -> str:
    """The page in one sentence."""
    unwell = sum(not line.well for group in groups for line in group)
    return "All is well" if not unwell else f"{words.number(unwell, 'thing')} to look at"


def parts(beats: Sequence[Beat]) -> tuple[Line, ...]:
    """Every part with its copies; one that was never there is missed only where it is needed."""
    found = []
    for part, does in PARTS.items():
        own = [beat for beat in beats if beat.part == part]
        alive = [beat for beat in own if beat.alive]
        if not own:
            found.append(Line(part, f"{does}: not running", part not in NEEDED))
            continue
        copies = "; ".join(_copy(beat) for beat in own)
        said = words.number(len(alive), "copy", "copies") + " alive" if alive else "not alive"
        found.append(Line(part, f"{does}: {said}", bool(alive), copies))
    return tuple(found)


def jobs(rows: Sequence[JobRow], now: datetime) -> tuple[Line, ...]:
    """Every job of every facility: when it last ended well, and how it last failed."""
    return tuple(_job(row, now) for row in rows)


def lags(rows: Sequence[LagRow], queued: tuple[int, datetime | None], now: datetime) -> tuple[Line, ...]:
    """What waits: readings to be rolled up, notices to leave."""
    found = []
    for row in rows:
        waited = now - row.oldest if row.oldest else timedelta()
        heard = f"heard {ago(row.heard_at, now)}" if row.heard_at else "no gateway heard yet"
        # A bucket of five minutes waits while it fills.
        late = waited > _LAG_LATE + timedelta(minutes=5)
        said = f"{heard}; {words.number(row.buckets, 'bucket')} to roll up" if row.buckets else heard
        found.append(Line(row.facility, said + (f", the oldest since {span(waited)}" if late else ""), not late))
    count, due = queued
    waits = now - due if due else timedelta()
    late = waits > _NOTICE_LATE
    said = f"{words.number(count, 'notice')} waiting to leave" + (f", the oldest due for {span(waits)}" if late else "")
    found.append(Line("Notices", said, not late))
    return tuple(found)


def gateways(rows: Sequence[GatewayRow], late: timedelta, now: datetime) -> tuple[Line, ...]:
    """Every gateway; one not heard for longer than `late`, or that said it is offline, is to be looked at."""
    found = []
    for row in rows:
        heard = f"heard {ago(row.heard_at, now)}" if row.heard_at else "never heard"
        well = row.heard_at is not None and now - row.heard_at <= late and row.status != "offline"
        at = moment(row.status_at, ZoneInfo(row.zone), now).text if row.status_at else ""
        status = f"; says {row.status} since {at}" if row.status else ""
        unknown = "" if row.declared else "; not in the fleet"
        devices = words.number(row.devices, "device")
        found.append(Line(row.slug, f"{heard}; {devices}{status}{unknown}", well, row.facility))
    return tuple(found)


def batteries(rows: Sequence[BatteryRow], now: datetime) -> tuple[Line, ...]:
    """The emptiest batteries."""
    found = []
    for row in rows:
        amount = f"{row.last:.0f} %" if row.unit == "%EL" else f"{row.last:.2f} {row.unit}"
        said = f"{amount}, read {ago(row.last_at, now)}"
        found.append(
            Line(row.measures or f"device {row.urn[-6:]}", said, row.last >= _BATTERY_LEAST.get(row.unit, 0.0), row.urn)
        )
    return tuple(found)


def machine(
    free_bytes: int, total_bytes: int, database_bytes: int, reading_bytes: int, versions: Mapping[str, str]
) -> tuple[Line, ...]:
    """Disk, size of the database, versions."""
    disk = f"{free_bytes / 1e9:.1f} of {total_bytes / 1e9:.0f} GB free where the pages are served"
    size = f"{database_bytes / 1e6:,.0f} MB, of which readings {reading_bytes / 1e6:,.0f} MB"
    found = [Line("Disk", disk, free_bytes >= _DISK_LEAST_BYTES), Line("Database", size, True)]
    return tuple(found + [Line(name, version, True) for name, version in versions.items()])


def refused(rows: Sequence[RefusedRow], accepted: Mapping[str, str], octets: int, now: datetime) -> tuple[Refused, ...]:
    """What was refused, as people can read it."""
    return tuple(_refused(row, accepted, octets, now) for row in rows)


def _refused(row: RefusedRow, accepted: Mapping[str, str], octets: int, now: datetime) -> Refused:
    raw = bytes.fromhex(row.payload_hex)
    cut = f"the first {octets} of {row.payload_bytes} octets" if row.payload_bytes > octets else ""
    return Refused(
        id=row.id,
        at=moment(row.at, ZoneInfo(row.zone or "UTC"), now),
        facility=row.facility or "no facility that is known",
        topic=row.topic,
        reason=row.reason,
        accepted=accepted.get(row.reason, ""),
        detail=row.detail,
        records=words.number(row.records, "record"),
        payload=_text(raw),
        cut=cut,
    )


def _text(raw: bytes) -> str:
    """Octets as text where they are printable text, a last letter that was cut left out; else in hexadecimal digits."""
    text = raw.decode("utf-8", "ignore")
    printable = all(letter.isprintable() or letter in "\n\t\r" for letter in text)
    return text if printable and len(text.encode()) >= len(raw) - 3 else raw.hex(" ", 2)


def _copy(beat: Beat) -> str:
    why = str(beat.detail.get("why") or "")
    state = "" if beat.alive else " not alive," if beat.healthy else " says that it is not well,"
    return (
        f"{beat.instance}:{state} heard {span(timedelta(seconds=max(beat.age_s, 0.0)))} ago{': ' + why if why else ''}"
    )


def _job(row: JobRow, now: datetime) -> Line:
    zone = ZoneInfo(row.zone or "UTC")
    done = f"last well as of {moment(row.ok_as_of, zone, now).text}" if row.ok_as_of else "never ended well in a day"
    well = row.ok_as_of is not None and (row.job != "sweep" or now - row.ok_as_of <= SWEEP_LATE)
    slowest = f"; slowest of the hour {row.slowest.total_seconds():.1f} s" if row.slowest else ""
    failed = ""
    if row.failures and row.failed_at:
        last = moment(row.failed_at, zone, now).text
        failed = f"failed {words.number(row.failures, 'time')} in a day, last {last}: {row.why}"
    return Line(f"{row.job}{', ' + row.facility if row.facility else ''}", done + slowest, well, failed)
