"""Who is on duty at a moment, in which order they are called, and who would be for one alarm."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, cast

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from wickwatch import alarms
from wickwatch.alarms import Priority, State
from wickwatch.alarms.rota_calls import WouldCall, would_call
from wickwatch.store import rota
from wickwatch.store.pages import AlarmRow
from wickwatch.web.access import ApiCall, Call
from wickwatch.web.api.alarms import find
from wickwatch.web.api.fields import Moment, Slug
from wickwatch.web.api.shapes import as_utc, utc

router = APIRouter(tags=["rota"])


class OnDuty(BaseModel):
    """One person who is called."""

    id: str
    name: str
    step: int = Field(description="1 is called first; of managers always 1")
    ways: list[str] = Field(description="how they are reached, in the order it is tried; empty: not at all")
    quiet_until: datetime | None = Field(description="end of their quiet hours, while low priority waits")


class Rung(BaseModel):
    """Those who are called at once."""

    after_s: float = Field(description="how long after the first call, if nobody has said by then that it is theirs")
    people: list[OnDuty]
    spared: list[OnDuty] = Field(description="not called, since they are in quiet hours and the priority is low")


class DutyNow(BaseModel):
    """Who has the duty at a moment, and in which order they would be called."""

    facility: str = Field(description="slug")
    at: datetime
    fallback: bool = Field(description="nobody who can be reached is on duty, so managers are called")
    people: list[OnDuty] = Field(description="who has the duty, by step, those too who can't be reached")
    rungs: list[Rung] = Field(description="who is called for high and medium priority, in order; empty: nobody")


class CallsFor(BaseModel):
    """Who would be called for one alarm as it is now."""

    alarm: str = Field(description="id")
    nobody_because: str | None = Field(description="why nobody is called; null where somebody is")
    held_until: datetime | None = Field(description="when the first call leaves, where quiet hours hold it")
    rungs: list[Rung] = Field(description="who is called, in order")


@router.get("/duty")
def duty(
    call: ApiCall,
    facility: Annotated[Slug, Query(description="slug")],
    at: Annotated[Moment | None, Query(description="now where no time is given")] = None,
) -> DutyNow:
    """Who has the duty in a facility at a moment, by the rota as it is now."""
    visible = call.facility(facility)
    when = at or call.now
    with call.web.connection() as conn:
        found = rota.on_duty(conn, visible.id, when)
    return DutyNow(
        facility=visible.slug,
        at=as_utc(when),
        fallback=found.fallback,
        people=[_person(each) for each in found.people],
        rungs=_rungs(would_call(found, "high")),
    )


@router.get("/alarms/{id}/duty")
def duty_for_alarm(call: ApiCall, id: str) -> CallsFor:
    """Who would be called for an alarm now, in which order, or why nobody is."""
    row, found = calls_for(call, id)
    return CallsFor(
        alarm=str(row.id),
        nobody_because=found.nobody_because,
        held_until=utc(found.held_until),
        rungs=_rungs(found),
    )


def calls_for(call: Call, id: str) -> tuple[AlarmRow, WouldCall]:
    """An alarm the caller may see, and who would be called for it now."""
    row = find(call, id)
    with call.web.connection() as conn:
        found = rota.on_duty(conn, row.facility_id, call.now)
    return row, would_call(found, cast(Priority, row.priority), cast(State, row.state))


def _rungs(found: WouldCall) -> list[Rung]:
    return [
        Rung(
            after_s=rung.after.total_seconds(),
            people=[_person(each) for each in rung.people],
            spared=[_person(each) for each in rung.spared],
        )
        for rung in found.rungs
    ]


def _person(person: alarms.OnDuty) -> OnDuty:
    return OnDuty(
        id=str(person.person_id),
        name=person.name,
        step=person.step,
        ways=[contact.way for contact in person.contacts],
        quiet_until=utc(person.quiet_until),
    )
