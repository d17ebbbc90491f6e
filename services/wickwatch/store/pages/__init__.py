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
from wickwatch.store.pages.channels import ChannelRow, channel, channels, channels_named
from wickwatch.store.pages.charts import Bucket, WorkRow, buckets, hourly_means, work_between, work_of_alarm
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
from wickwatch.store.pages.subjects import SubjectRow, subject
from wickwatch.store.pages.watching import Counts, Stamp, counts, heard, low_until, stamp, sweeps, waiting_channels

__all__ = [
    "AlarmRow",
    "Bucket",
    "ChannelRow",
    "ContainerRow",
    "Counts",
    "Cursor",
    "JournalRow",
    "LineRow",
    "NoticeRow",
    "ReservoirRow",
    "RoomRow",
    "Stamp",
    "SubjectRow",
    "WorkRow",
    "alarm",
    "alarms",
    "buckets",
    "channel",
    "channels",
    "channels_named",
    "containers",
    "counts",
    "heard",
    "hourly_means",
    "journal",
    "lines",
    "low_until",
    "notices",
    "reservoirs",
    "room_ids",
    "rooms",
    "stamp",
    "subject",
    "sweeps",
    "waiting_channels",
    "work_between",
    "work_of_alarm",
]
