"""Read-only statements for the pages and the JSON API; each is given the facilities or rooms that may be seen."""

from wickwatch.store.pages.alarm_reads import (
    AlarmRow,
    Cursor,
    JournalRow,
    NoticeRow,
    alarm,
    alarms,
    journal,
    notices,
)
from wickwatch.store.pages.charts import Bucket, buckets, work_between, work_of_alarm
from wickwatch.store.pages.place import (
    ContainerRow,
    LineRow,
    ReservoirRow,
    RoomRow,
    containers,
    lines,
    reservoirs,
    room_ids,
    rooms,
)
from wickwatch.store.pages.watching import Counts, Stamp, counts, heard, stamp, sweeps, waiting_channels

__all__ = [
    "AlarmRow",
    "Bucket",
    "ContainerRow",
    "Counts",
    "Cursor",
    "JournalRow",
    "LineRow",
    "NoticeRow",
    "ReservoirRow",
    "RoomRow",
    "Stamp",
    "alarm",
    "alarms",
    "buckets",
    "containers",
    "counts",
    "heard",
    "journal",
    "lines",
    "notices",
    "reservoirs",
    "room_ids",
    "rooms",
    "stamp",
    "sweeps",
    "waiting_channels",
    "work_between",
    "work_of_alarm",
]
