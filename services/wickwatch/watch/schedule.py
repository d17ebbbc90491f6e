"""The clock of the watch: which job runs when, by APScheduler, and never twice at once.

Not here: what the jobs do.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from apscheduler.events import EVENT_JOB_MAX_INSTANCES, JobSubmissionEvent
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger

from wickwatch import log

#: Between sweeps of a facility.
SWEEP = timedelta(seconds=30)

#: How long a sweep waits after its moment for readings that are on their way from the broker to the database.
ALLOW = timedelta(seconds=2)


def moment(now: datetime, every: timedelta = SWEEP, allow: timedelta = ALLOW) -> datetime:
    """The newest whole multiple of `every` that lies at least `allow` ago: what a sweep at `now` judges as of.

    Live watch and backtest thus judge the same moments.
    """
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    return epoch + (now - allow - epoch) // every * every


class Clock:
    """Runs jobs at whole multiples of their period; a job that overruns is not started again until it has ended."""

    def __init__(self, workers: int) -> None:
        self._scheduler = BackgroundScheduler(
            timezone=UTC,
            executors={"default": ThreadPoolExecutor(workers)},
            job_defaults={
                "max_instances": 1,
                "coalesce": True,
                "misfire_grace_time": 60,
            },
        )
        # The scheduler's own words are prose; what matters of them is an event of ours.
        logging.getLogger("apscheduler").setLevel(logging.CRITICAL)
        self._scheduler.add_listener(_overrun, EVENT_JOB_MAX_INSTANCES)

    def every(
        self,
        period: timedelta,
        name: str,
        job: Callable[[], None],
        after: timedelta = timedelta(),
    ) -> None:
        """Run a job each `period`, `after` later than the whole multiples of it."""
        first = moment(datetime.now(UTC) - after, period, timedelta()) + after
        trigger = IntervalTrigger(seconds=int(period.total_seconds()), start_date=first, timezone=UTC)
        self._scheduler.add_job(_guarded(name, job), trigger, id=name, name=name)

    def weekly(self, day: str, hour: int, zone: str, name: str, job: Callable[[], None]) -> None:
        """Run a job each week on a day (`mon`) at an hour of a zone's clock."""
        trigger = CronTrigger(day_of_week=day, hour=hour, timezone=zone)
        self._scheduler.add_job(_guarded(name, job), trigger, id=name, name=name)

    def drop(self, name: str) -> None:
        """Stop a job."""
        self._scheduler.remove_job(name)

    def run(self, stop: threading.Event) -> None:
        """Run until `stop`, then wait for the jobs that are at work."""
        self._scheduler.start()
        try:
            stop.wait()
        finally:
            self._scheduler.shutdown(wait=True)


def _overrun(told: JobSubmissionEvent) -> None:
    log.warning("job.overrun", job=told.job_id)


def _guarded(name: str, job: Callable[[], None]) -> Callable[[], None]:
    """A job whose failure is logged and tried again at its next time."""

    def run() -> None:
        try:
            job()
        except Exception as error:
            log.warning(
                "job.failed",
                job=name,
                error=type(error).__name__,
                why=str(error).splitlines()[0] if str(error) else "",
            )

    return run
