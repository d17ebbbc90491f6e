"""How the alarms serve: the measures of a facility's week, each beside what the standards aim at."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from wickwatch.alarms.measures import Measures
from wickwatch.alarms.measures_targets import Line, lines, person_lines
from wickwatch.alarms.weeks import week_of, week_span
from wickwatch.errors import InputError
from wickwatch.store import measures as stored
from wickwatch.store.people import Visible
from wickwatch.web.access import ApiCall, Call
from wickwatch.web.api.fields import Slug
from wickwatch.web.api.shapes import as_utc, utc

router = APIRouter(tags=["measures"])


class Measure(BaseModel):
    """One figure beside its target."""

    name: str
    label: str = Field(description="what it is, in words")
    value: float | None = Field(description="in `unit`; null where there was nothing to measure")
    unit: Literal["count", "per day", "share", "s"] = Field(description="share: 0 to 1")
    target: str = Field(description="what the standards aim at, in words; empty where nothing is published")
    source: str = Field(description="where the target is from, and how sure that is")
    met: bool | None = Field(description="whether the value is as it should be; null where nothing says")


class Person(BaseModel):
    """One person's measures."""

    id: str
    name: str
    measures: list[Measure]


class Frequent(BaseModel):
    """What asked often, or became active again and again."""

    kind: str
    subject: str = Field(description="name of what it is about")
    count: int


class Standing(BaseModel):
    """An alarm that stood longer than 24 h."""

    alarm: str = Field(description="id")
    kind: str
    subject: str = Field(description="name of what it is about")
    since: datetime
    until: datetime | None = Field(description="null while it stands")


class Week(BaseModel):
    """The measures of one week, Monday to Monday by the facility's clock, or until now where it is not over."""

    facility: str = Field(description="slug")
    week: str = Field(description="as ISO 8601 writes it: 2026-W47")
    from_: datetime = Field(alias="from")
    to: datetime
    measures: list[Measure]
    people: list[Person] = Field(description="who was called or answered, by name")
    most_frequent: list[Frequent] = Field(description="at most ten, the most frequent first")
    chattering: list[Frequent] = Field(description="active three times or more within 8 hours")
    standing: list[Standing] = Field(description="the oldest first")


@router.get("/measures")
def measures(
    call: ApiCall,
    facility: Annotated[Slug, Query(description="slug")],
    week: Annotated[
        str | None,
        Query(max_length=8, description="as ISO 8601 writes it, such as 2026-W47; this week where none is named"),
    ] = None,
) -> Week:
    """How the alarms of a week served: how many, how fast they came, how long they stood, how soon answered."""
    visible = call.facility(facility)
    name, found = of_week(call, visible, week)
    return Week(
        facility=visible.slug,
        week=name,
        **{"from": as_utc(found.start)},
        to=as_utc(found.end),
        measures=[_measure(line) for line in lines(found)],
        people=[
            Person(id=each.person_id, name=each.name, measures=[_measure(line) for line in person_lines(each)])
            for each in found.people
        ],
        most_frequent=[Frequent(kind=e.kind, subject=e.subject_name, count=e.count) for e in found.frequent],
        chattering=[Frequent(kind=e.kind, subject=e.subject_name, count=e.count) for e in found.chattering],
        standing=[
            Standing(alarm=e.alarm_id, kind=e.kind, subject=e.subject_name, since=as_utc(e.since), until=utc(e.until))
            for e in found.standing
        ],
    )


def of_week(call: Call, facility: Visible, week: str | None) -> tuple[str, Measures]:
    """The name of a week, this one where none is named, and its measures. Raises InputError for one yet to come."""
    zone = ZoneInfo(facility.zone)
    name = week or week_of(call.now, zone)
    start, end = week_span(name, zone)
    if start >= call.now:
        raise InputError("week", name, f"{week_of(call.now, zone)} or one before it")
    with call.web.connection() as conn:
        return name, stored.of_facility(conn, facility.id, zone, start, end, call.now)


def _measure(line: Line) -> Measure:
    return Measure(
        name=line.name,
        label=line.label,
        value=line.value,
        unit=line.unit,  # type: ignore[arg-type]
        target=line.target,
        source=line.source,
        met=line.met,
    )
