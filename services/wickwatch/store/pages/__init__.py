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
    open_by_state,
)
from wickwatch.store.pages.channels import ChannelRow, channel, channels, channels_named
from wickwatch.store.pages.charts import (
    WorkRow,
    attached_since,
    bucket_end,
    means,
    work_of_alarm,
)
from wickwatch.store.pages.in_band import Probe, in_band
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
    "ChannelRow",
    "ContainerRow",
    "Counts",
    "Cursor",
    "JournalRow",
    "LineRow",
    "NoticeRow",
    "Probe",
    "ReservoirRow",
    "RoomRow",
    "Stamp",
    "SubjectRow",
    "WorkRow",
    "alarm",
    "alarms",
    "attached_since",
    "bucket_end",
    "channel",
    "channels",
    "channels_named",
    "containers",
    "counts",
    "heard",
    "in_band",
    "journal",
    "lines",
    "low_until",
    "means",
    "notices",
    "open_by_state",
    "reservoirs",
    "room_ids",
    "rooms",
    "stamp",
    "subject",
    "sweeps",
    "waiting_channels",
    "work_of_alarm",
]
