"""Who is on duty at a moment, and in which order they are called."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from wickwatch import alarms
from wickwatch.alarms import Duty
from wickwatch.store import rota
from wickwatch.web.access import ApiCall
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


class DutyNow(BaseModel):
    """Who has the duty at a moment, and in which order they would be called."""

    facility: str = Field(description="slug")
    at: datetime
    fallback: bool = Field(description="nobody who can be reached is on duty, so managers are called")
    people: list[OnDuty] = Field(description="who has the duty, by step, those too who can't be reached")
    rungs: list[Rung] = Field(description="who is called, in order; empty: nobody can be reached")


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
        rungs=rungs(found),
    )


def rungs(duty: Duty) -> list[Rung]:
    """Who is called, in order, with the time from the first call."""
    found, after = [], timedelta()
    for people, wait in zip(duty.ladder, duty.waits, strict=True):
        found.append(Rung(after_s=after.total_seconds(), people=[_person(each) for each in people]))
        after += wait
    return found


def _person(person: alarms.OnDuty) -> OnDuty:
    return OnDuty(
        id=str(person.person_id),
        name=person.name,
        step=person.step,
        ways=[contact.way for contact in person.contacts],
        quiet_until=utc(person.quiet_until),
    )
