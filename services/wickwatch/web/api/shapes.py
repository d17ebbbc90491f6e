"""From states and rows to what calls answer. Not here: the answers' fields (`models`), nor who may see them."""

from __future__ import annotations

from datetime import UTC, datetime, time
from typing import cast
from zoneinfo import ZoneInfo

import numpy as np

from wickwatch import alarms as alarm_core
from wickwatch import fleet
from wickwatch.alarms.model import Priority, State
from wickwatch.detect import Settled
from wickwatch.detect.finding import Value
from wickwatch.fleet import Kind
from wickwatch.store.judged import Judged
from wickwatch.store.pages import AlarmRow
from wickwatch.web.api import models
from wickwatch.web.views.state import ContainerState, ReservoirState, RoomState


def alarm(row: AlarmRow) -> models.Alarm:
    """An alarm in the contract's shape, by the function that makes it for every program."""
    made = alarm_core.Alarm(
        id=row.id,
        facility_id=row.facility_id,
        room_id=row.room_id,
        kind=cast(Kind, row.kind),
        subject=fleet.Subject(row.subject_type, row.subject_id, row.subject_name),
        priority=cast(Priority, row.priority),
        state=cast(State, row.state),
        condition_present=row.condition_present,
        raised_at=row.raised_at,
        message=row.message,
        evidence=cast(dict[str, Value], row.evidence),
        acknowledged_at=row.acknowledged_at,
        cause_id=row.cause_id,
        shelved_until=row.shelved_until,
        out_of_service_until=row.out_of_service_until,
        cleared_at=row.cleared_at,
        closed_at=row.closed_at,
        outcome=row.outcome,
    )
    return alarm_then(row, made)


def alarm_then(row: AlarmRow, then: alarm_core.Alarm) -> models.Alarm:
    """An alarm as it was at another moment; `row` names what is around it."""
    return models.Alarm.model_validate(alarm_core.as_json(then, _place(row)))


def _place(row: AlarmRow) -> fleet.Facility:
    """As much of a facility as the alarm's shape names."""
    room = (
        fleet.Room(row.room_id, row.room_slug or "", row.room_name or "", time(), time(), fleet.Rules())
        if row.room_id is not None
        else None
    )
    return fleet.Facility(
        row.facility_id,
        row.facility_slug,
        row.facility_name,
        ZoneInfo(row.zone),
        fleet.Rules(),
        (room,) if room else (),
        advice={row.kind: row.own_advice} if row.own_advice else {},
    )


def room(state: RoomState) -> models.Room:
    """A room with everything in it."""
    lines = {line.id: line.slug for line in state.lines}
    return models.Room(
        id=str(state.row.id),
        slug=state.row.slug,
        name=state.row.name,
        facility=state.row.facility_slug,
        facility_name=state.row.facility_name,
        zone=state.row.zone,
        lights_on=f"{state.row.lights_on:%H:%M}",
        lights_off=f"{state.row.lights_off:%H:%M}",
        state=state.need,
        heard_at=utc(state.heard_at),
        reservoirs=[_reservoir(each) for each in state.reservoirs],
        containers=[
            _container(each, lines.get(each.row.line_id) if each.row.line_id else None) for each in state.containers
        ],
        alarms=[alarm(each) for each in state.alarms],
    )


def settled(state: ContainerState, answer: Settled) -> models.Settled:
    """Whether a container is settled."""
    return models.Settled(
        container=models.Subject(type="container", id=str(state.row.id), name=state.row.name),
        ready=answer.ready,
        reasons=list(answer.reasons),
        tension_mbar=answer.tension_mbar,
        set_point_mbar=state.rules.set_point_mbar,
        ready_at=utc(answer.ready_at),
    )


def work(judged: Judged, facility: str, room: str | None, name: str) -> models.Work:
    """A work entry, given the slugs of where it was done and the name of what it was about."""
    entry = judged.entry
    return models.Work(
        id=str(entry.id),
        kind=entry.kind,
        facility=facility,
        room=room,
        subject=models.Subject.model_validate({"type": entry.subject_type, "id": str(entry.subject_id), "name": name}),
        at=as_utc(entry.at),
        person=entry.person,
        alarm=str(entry.alarm_id) if entry.alarm_id else None,
        note=entry.note,
        written_at=as_utc(entry.written_at or entry.at),
        corrects=str(entry.corrects) if entry.corrects else None,
        helped=judged.helped,
        helped_after_s=judged.after.total_seconds() if judged.after is not None else None,
    )


def as_utc(at: datetime) -> datetime:
    """A time for an answer."""
    return at.astimezone(UTC)


def from_numpy(at: np.datetime64) -> datetime:
    """A time of an array (datetime64[us], UTC) for an answer."""
    return cast(datetime, at.astype("datetime64[us]").item()).replace(tzinfo=UTC)


def utc(at: datetime | None) -> datetime | None:
    """A time for an answer, where there is one."""
    return None if at is None else at.astimezone(UTC)


def _container(state: ContainerState, line: str | None) -> models.Container:
    row, rules = state.row, state.rules
    return models.Container(
        id=str(row.id),
        slug=row.slug,
        name=row.name,
        line=line,
        stands_for=row.stands_for,
        channel_id=None if row.channel_id is None else str(row.channel_id),
        state=state.place,
        tension_mbar=row.tension_mbar,
        read_at=utc(row.read_at),
        set_point_mbar=rules.set_point_mbar,
        wet_limit_mbar=rules.wet_limit_mbar,
        dry_limit_mbar=rules.dry_limit_mbar,
    )


def _reservoir(state: ReservoirState) -> models.Reservoir:
    row, out = state.row, state.run_out
    return models.Reservoir(
        id=str(row.id),
        slug=row.slug,
        name=row.name,
        channel_id=None if row.channel_id is None else str(row.channel_id),
        level_mm=row.level_mm,
        read_at=utc(row.read_at),
        silent=state.silent,
        volume_l=_rounded(state.volume_l),
        usable_l=_rounded(state.usable_l),
        usable_full_l=_rounded(state.usable_full_l),
        draw_l_per_h=_rounded(out.draw_l_per_h if out else None, 3),
        empty_at=utc(out.at if out else None),
        empty_at_soonest=utc(out.soonest if out else None),
        empty_at_latest=utc(out.latest if out else None),
    )


def _rounded(value: float | None, digits: int = 2) -> float | None:
    return None if value is None else round(value, digits)
