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
from wickwatch.texts import _, capital, grouped, ngettext, number
from wickwatch.web.views.health_words import JOBS, PARTS, REFUSED
from wickwatch.web.views.times import Moment, ago, moment, past, span
from wickwatch.web.views.watching import SWEEP_LATE, Banner

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
    """One thing that is well or not: `well` false asks to look, and `said` tells why; `code` is its name in logs."""

    name: str
    said: str
    well: bool
    detail: str = ""
    code: str = ""


@dataclass(frozen=True)
class Refused:
    """One refused pack; `payload` is its beginning as text, or as hexadecimal digits where it is none.

    `reason` is in words, and `code` the same in logs and metrics.
    `may_try` where it is still refused and was kept whole; `taken` and `tried` say what became of trying it again.
    """

    id: int
    at: Moment
    facility: str
    topic: str
    reason: str
    code: str
    accepted: str
    detail: str
    records: str
    payload: str
    cut: str
    may_try: bool
    taken: str
    tried: Moment | None


@dataclass(frozen=True)
class HealthPage:
    """The whole page; `reasons` are each a code, its words, and how many records were refused for it."""

    headline: str
    parts: tuple[Line, ...]
    jobs: tuple[Line, ...]
    lags: tuple[Line, ...]
    gateways: tuple[Line, ...]
    batteries: tuple[Line, ...]
    machine: tuple[Line, ...]
    reasons: tuple[tuple[str, str, int], ...]
    reason: str
    refused: tuple[Refused, ...]
    older: int | None
    tried: str
    banners: tuple[Banner, ...]


def headline(*groups: Sequence[Line]) -> str:
    """The page in one sentence."""
    unwell = sum(not line.well for group in groups for line in group)
    return ngettext("%(num)s thing to look at", "%(num)s things to look at", unwell) if unwell else _("All is well")


def parts(beats: Sequence[Beat]) -> tuple[Line, ...]:
    """Every part with its copies; one that was never there is missed only where it is needed."""
    found = []
    for part, does in PARTS.items():
        own = [beat for beat in beats if beat.part == part]
        alive = [beat for beat in own if beat.alive]
        if not own:
            found.append(Line(does, _("not running"), part not in NEEDED, code=part))
            continue
        copies = "; ".join(_copy(beat) for beat in own)
        said = ngettext("%(num)s copy alive", "%(num)s copies alive", len(alive)) if alive else _("not alive")
        found.append(Line(does, said, bool(alive), copies, part))
    return tuple(found)


def jobs(rows: Sequence[JobRow], now: datetime) -> tuple[Line, ...]:
    """Every job of every facility: when it last ended well, and how it last failed."""
    return tuple(_job(row, now) for row in rows)


def lags(rows: Sequence[LagRow], queued: tuple[int, datetime | None], now: datetime) -> tuple[Line, ...]:
    """What waits: readings to be rolled up, notices to leave."""
    found = []
    for row in rows:
        waited = now - row.oldest if row.oldest else timedelta()
        heard = _("heard %(ago)s", ago=ago(row.heard_at, now)) if row.heard_at else _("no gateway heard yet")
        # A bucket of five minutes waits while it fills.
        late = waited > _LAG_LATE + timedelta(minutes=5)
        said = heard
        if row.buckets:
            said += "; " + ngettext("%(num)s bucket to roll up", "%(num)s buckets to roll up", row.buckets)
        if late:
            said += _(", the oldest since %(span)s", span=span(waited))
        found.append(Line(row.facility, said, not late))
    count, due = queued
    waits = now - due if due else timedelta()
    late = waits > _NOTICE_LATE
    said = ngettext("%(num)s notice waiting to leave", "%(num)s notices waiting to leave", count)
    if late:
        said += _(", the oldest due for %(span)s", span=span(waits))
    found.append(Line(_("Notices"), said, not late))
    return tuple(found)


def gateways(rows: Sequence[GatewayRow], late: timedelta, now: datetime) -> tuple[Line, ...]:
    """Every gateway; one not heard for longer than `late`, or that said it is offline, is to be looked at."""
    found = []
    for row in rows:
        heard = _("heard %(ago)s", ago=ago(row.heard_at, now)) if row.heard_at else _("never heard")
        well = row.heard_at is not None and now - row.heard_at <= late and row.status != "offline"
        at = moment(row.status_at, ZoneInfo(row.zone), now).text if row.status_at else ""
        status = {
            "online": _("; says it is online since %(at)s", at=at),
            "offline": _("; says it is offline since %(at)s", at=at),
            None: "",
        }[row.status]
        unknown = "" if row.declared else _("; not in the fleet")
        devices = ngettext("%(num)s device", "%(num)s devices", row.devices)
        found.append(Line(row.slug, f"{heard}; {devices}{status}{unknown}", well, row.facility))
    return tuple(found)


def batteries(rows: Sequence[BatteryRow], now: datetime) -> tuple[Line, ...]:
    """The emptiest batteries."""
    found = []
    for row in rows:
        amount = f"{number(row.last)} %" if row.unit == "%EL" else f"{number(row.last, 2)} {row.unit}"
        said = _("%(amount)s, read %(ago)s", amount=amount, ago=ago(row.last_at, now))
        found.append(
            Line(
                row.measures or _("device %(number)s", number=row.urn[-6:]),
                said,
                row.last >= _BATTERY_LEAST.get(row.unit, 0.0),
                f"{row.facility} · {row.urn}",
            )
        )
    return tuple(found)


def machine(
    free_bytes: int, total_bytes: int, database_bytes: int, reading_bytes: int, versions: Mapping[str, str]
) -> tuple[Line, ...]:
    """Disk, size of the database, versions."""
    disk = _(
        "%(free)s of %(total)s GB free where the pages are served",
        free=number(free_bytes / 1e9, 1),
        total=number(total_bytes / 1e9),
    )
    size = _(
        "%(size)s MB, of which readings %(part)s MB",
        size=grouped(database_bytes / 1e6),
        part=grouped(reading_bytes / 1e6),
    )
    found = [Line(_("Disk"), disk, free_bytes >= _DISK_LEAST_BYTES), Line(_("Database"), size, True)]
    return tuple(found + [Line(name, version, True) for name, version in versions.items()])


def reasons(counts: Mapping[str, int]) -> tuple[tuple[str, str, int], ...]:
    """Reasons to refuse records by code, with their words and how many were refused."""
    return tuple((code, REFUSED.get(code, code), records) for code, records in counts.items())


def refused(rows: Sequence[RefusedRow], accepted: Mapping[str, str], octets: int, now: datetime) -> tuple[Refused, ...]:
    """What was refused, as people can read it."""
    return tuple(_refused(row, accepted, octets, now) for row in rows)


def tried(count: int, taken: int, most: int) -> str:
    """What became of packs that were tried again; where there may be more, that they can be tried, too."""
    if not count:
        return _("Nothing of this could be tried again.")
    said = ngettext("%(num)d refused pack tried again", "%(num)d refused packs tried again", count)
    told = _("%(said)s: %(taken)d taken in, %(still)d refused as before.", said=said, taken=taken, still=count - taken)
    more = _("There may be more: try again for the next.")
    return f"{told} {more}" if count >= most else told


def _refused(row: RefusedRow, accepted: Mapping[str, str], octets: int, now: datetime) -> Refused:
    raw = bytes.fromhex(row.payload_hex)
    cut = ""
    if row.payload_bytes > octets:
        cut = _("the first %(num)s of %(all)s octets", num=octets, all=row.payload_bytes)
    zone = ZoneInfo(row.zone or "UTC")
    taken = ""
    if row.taken_at is not None:
        stored = ngettext("%(num)d reading stored", "%(num)d readings stored", row.stored)
        taken = _("Taken in %(when)s: %(stored)s", when=moment(row.taken_at, zone, now).text, stored=stored)
        taken += _(", %(known)d known before", known=row.known) if row.known else ""
    return Refused(
        id=row.id,
        at=moment(row.at, zone, now),
        facility=row.facility or _("no facility that is known"),
        topic=row.topic,
        reason=REFUSED.get(row.reason, row.reason),
        code=row.reason,
        accepted=capital(accepted.get(row.reason, "")),
        detail=row.detail,
        records=ngettext("%(num)s record", "%(num)s records", row.records),
        payload=_text(raw),
        cut=cut,
        may_try=row.whole and row.taken_at is None,
        taken=taken,
        tried=moment(row.tried_at, zone, now) if row.tried_at and row.taken_at is None else None,
    )


def _text(raw: bytes) -> str:
    """Octets as text where they are printable text, a last letter that was cut left out; else in hexadecimal digits."""
    text = raw.decode("utf-8", "ignore")
    printable = all(letter.isprintable() or letter in "\n\t\r" for letter in text)
    return text if printable and len(text.encode()) >= len(raw) - 3 else raw.hex(" ", 2)


def _copy(beat: Beat) -> str:
    why = str(beat.detail.get("why") or "")
    told = {"name": beat.instance, "ago": past(timedelta(seconds=max(beat.age_s, 0.0)))}
    said = _("%(name)s: heard %(ago)s", **told)
    if not beat.alive:
        said = (
            _("%(name)s: not alive, heard %(ago)s", **told)
            if beat.healthy
            else _("%(name)s: says that it is not well, heard %(ago)s", **told)
        )
    return f"{said}: {why}" if why else said


def _job(row: JobRow, now: datetime) -> Line:
    zone = ZoneInfo(row.zone or "UTC")
    done = _("never succeeded in a day")
    if row.ok_as_of:
        done = _("last succeeded %(at)s", at=moment(row.ok_as_of, zone, now).text)
    well = row.ok_as_of is not None and (row.job != "sweep" or now - row.ok_as_of <= SWEEP_LATE)
    slowest = ""
    if row.slowest:
        slowest = _("; slowest of the hour %(seconds)s s", seconds=number(row.slowest.total_seconds(), 1))
    failed = ""
    if row.failures and row.failed_at:
        last = moment(row.failed_at, zone, now).text
        failed = ngettext(
            "failed %(num)s time in a day, last %(at)s: %(why)s",
            "failed %(num)s times in a day, last %(at)s: %(why)s",
            row.failures,
            at=last,
            why=row.why,
        )
    name = JOBS.get(row.job, row.job)
    return Line(f"{name}{', ' + row.facility if row.facility else ''}", done + slowest, well, failed, row.job)
