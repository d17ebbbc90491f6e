"""A house whose watch and outbox crash between any two steps, and what must be true of it afterwards.

A crash is the process gone: its connection breaks in the middle of whatever it was doing, all it held in memory is
lost, and it begins anew. Steps are every statement, every commit, and every message handed to the mail server, before
and after. Everything else is as deployed: PostgreSQL, the watch's step, the outbox's own sending and recording, SMTP.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any

import psycopg

from tests.integration.alarms.house import BASE_URL, HERE, build, connect, on_call, rows
from tests.parts.mail import Mailbox
from tests.unit.alarms.places import HOUSE, START, found, judged, named, pot
from wickwatch.alarms import Act
from wickwatch.fleet import Container, Facility, Subject
from wickwatch.notify.channels import Email
from wickwatch.notify.outbox import LEASE, record, send
from wickwatch.notify.retry import Retry
from wickwatch.store import alarms, notices
from wickwatch.urls import MAIL_SCHEMES, endpoint
from wickwatch.watch import stepping

POTS = [replace(pot(), id=named(f"crash pot {number}"), name=f"Pot {number}") for number in range(30)]

#: What somebody has said "mine" to, and recorded no work for, is over only after a good while.
CLEAR = timedelta(hours=7)


class Crash(BaseException):
    """The process is gone."""


@dataclass
class Fuse:
    """Burns down by one at each step and ends the process at nought; `burnt` counts where, by what was being done."""

    left: int | None = None
    steps: int = 0
    doing: str = ""
    burnt: Counter[str] = field(default_factory=Counter)

    def step(self, conn: psycopg.Connection[Any] | None = None) -> None:
        self.steps += 1
        if self.left is None:
            return
        self.left -= 1
        if self.left < 0:
            self.left = None
            self.burnt[self.doing] += 1
            if conn is not None:
                conn.pgconn.finish()  # as the system does with the connections of a process that was killed
            raise Crash


class _Cursor(psycopg.Cursor[Any]):
    def execute(self, *args: Any, **kwargs: Any) -> Any:
        self.connection.fuse.step(self.connection)  # type: ignore[attr-defined]
        return super().execute(*args, **kwargs)

    def executemany(self, *args: Any, **kwargs: Any) -> Any:
        self.connection.fuse.step(self.connection)  # type: ignore[attr-defined]
        return super().executemany(*args, **kwargs)


class _Connection(psycopg.Connection[Any]):
    fuse: Fuse

    @contextmanager
    def transaction(self, *args: Any, **kwargs: Any) -> Iterator[Any]:
        with super().transaction(*args, **kwargs) as running:
            yield running
            self.fuse.step(self)
        self.fuse.step(self)


class House:
    """The house, its clock, and the mail that left it."""

    def __init__(self, url: str, mailbox: Mailbox, seed: int) -> None:
        self._url = url
        self._mailbox = mailbox
        self._chance = random.Random(seed)
        self._channel = Email(endpoint(mailbox.url, MAIL_SCHEMES), "wickwatch@example.net")
        self.fuse = Fuse()
        self.at = START
        self.wet: list[Subject] = []
        self.raised = 0
        with connect(url) as conn:
            build(conn)
            self.me = on_call(conn, "Ane", "email", "ane@example.org")
        room = HOUSE.rooms[0]
        more = tuple(Container(p.id, p.name, p.name, None, 20, "peat", 1, room.rules, None) for p in POTS)
        self.place: Facility = replace(HOUSE, rooms=(replace(room, containers=more), *HOUSE.rooms[1:]))

    def episode(self, crash: bool) -> None:
        """Some pots become wet, somebody is called, says "mine", and it ends; with one crash anywhere, or without."""
        if crash:
            self.fuse.left = self._chance.randrange(self._usual_steps())
        many = self._chance.random() < 0.2
        self.wet = self._chance.sample(POTS, 14 if many else self._chance.randint(1, 3))
        self.raised += len(self.wet)
        self._until_done("raising and queueing", self._sweep)
        self._until_done("sending and recording", self._drain)
        self.check()
        with connect(self._url) as conn:
            for alarm in alarms.standing(conn, HOUSE.id):
                alarms.apply_event(conn, alarm.id, Act("acknowledge"), self.me, self.at, HERE)
        self.wet = []
        for _ in range(2):
            self.at += CLEAR
            self._until_done("clearing", self._sweep)
        self.fuse.left = None

    def check(self) -> None:
        """Every alarm there is once, every call of it has its message, and every message arrived."""
        with connect(self._url) as conn:
            standing = sorted(each for (each,) in rows(conn, "SELECT subject_name FROM alarm WHERE closed_at IS NULL"))
            assert standing == sorted(each.name for each in self.wet), "lost, or raised twice"
            entries = rows(conn, "SELECT count(*), count(DISTINCT alarm_id) FROM alarm_journal WHERE event = 'raised'")
            assert entries == [(self.raised, self.raised)]
            without = """
                SELECT count(*) FROM alarm_journal j LEFT JOIN alarm_call c USING (alarm_id, version)
                LEFT JOIN notice n ON left(n.key, -37) = c.notice
                WHERE (j.detail ->> 'call')::boolean AND (n.state IS DISTINCT FROM 'sent')"""
            assert rows(conn, without) == [(0,)], "a notice was lost"
            sent = rows(conn, "SELECT count(*) FROM notice")[0][0]
        ids = Counter(str(mail.message["Message-ID"]) for mail in self._mailbox.mails)
        assert len(ids) == sent, "each notice arrived"
        assert max(ids.values()) <= 2 and sum(ids.values()) - sent <= self.fuse.burnt["sending and recording"]

    def _usual_steps(self) -> int:
        """How many steps an episode takes; measured by the one before it."""
        usual, self.fuse.steps = max(self.fuse.steps, 1), 0
        return usual

    def _until_done(self, doing: str, act: Callable[[_Connection], None]) -> None:
        self.fuse.doing = doing
        while True:
            with suppress(Crash), self._process() as conn:
                act(conn)
                return
            # It begins anew, half a minute later at the earliest; what was claimed is due again after its lease.
            self.at += timedelta(seconds=30) if doing != "sending and recording" else LEASE

    @contextmanager
    def _process(self) -> Iterator[_Connection]:
        conn = _Connection.connect(
            self._url, autocommit=True, cursor_factory=_Cursor, options="-c timezone=UTC", application_name="crashing"
        )
        conn.fuse = self.fuse
        try:
            yield conn
        finally:
            conn.close()

    def _sweep(self, conn: _Connection) -> None:
        minute = (self.at - START) / timedelta(minutes=1)
        judgement = judged(minute, *(found("sudden-wetting", each) for each in self.wet))
        with conn.transaction():
            stepping.step(conn, self.place, judgement, (), BASE_URL)

    def _drain(self, conn: _Connection) -> None:
        """As the outbox's worker does, but by this clock."""
        while (notice := self._claim(conn)) is not None:
            self.fuse.step(conn)
            result = send(self._channel, notice, self.at)
            assert result.ok, result.detail
            self.fuse.step(conn)
            record(conn, notice, result, Retry(), self.at)

    def _claim(self, conn: _Connection) -> notices.Claimed | None:
        return notices.claim(conn, self.at, "email", LEASE)


def begin(url: str, mailbox: Mailbox, seed: int) -> House:
    """A house that has lived through one episode without a crash."""
    house = House(url, mailbox, seed)
    house.episode(crash=False)
    return house
