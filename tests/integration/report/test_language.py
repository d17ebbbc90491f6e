"""A report is in its facility's language and units, in every part of it; its tables stay as programs read them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import asdict, replace
from datetime import timedelta
from uuid import UUID

import numpy as np
import pytest
from babel import Locale

from tests.builders import pseudo
from tests.integration.report.true_week import TrueWeek
from wickwatch.fleet import KINDS, Work
from wickwatch.report import Facts, data, papers
from wickwatch.report.key_figures import changes, key_figures
from wickwatch.report.make import File
from wickwatch.report.sections import document
from wickwatch.report.sending import text
from wickwatch.store.judged import Judged
from wickwatch.store.report_alarms import Raised
from wickwatch.texts import Choices, speaking

#: Published names of methods and standards, and a zone, stay as they are.
_NAMES = ("Theil-Sen", "Mann-Kendall", "Benjamini", "Hochberg", "Europe/Oslo", "IEC", "ANSI/ISA", "EEMUA")


def full(week: TrueWeek, reader: Choices) -> Facts:
    """The week with alarms of every kind, work that helped and did not, and gaps, for whoever reads it."""
    facts = week.facts
    start = facts.week.start
    room = facts.place.rooms[0]
    alarms = tuple(
        Raised(
            UUID(int=number), kind, "high", room.id, "Pot 1", start, None, None, None, "Its message.", {}, {},
            "reservoir-empty" if number % 3 == 1 else None,
        )
        for number, kind in enumerate(KINDS)
    )  # fmt: skip
    pot = facts.place.containers[0]
    entry = Work(UUID(int=1), "re-set-emitter", "container", pot.id, room.id, start + timedelta(days=1))
    work = tuple(
        Judged(entry=entry, helped=helped, after=timedelta(hours=3) if helped else None, alarm_kind="drying-drift")
        for helped in (True, False)
    )
    shares = np.array(facts.completeness.probes)
    shares[0] = 0.5
    seen = replace(facts.completeness, probes=shares, facility=0.9)
    return replace(facts, reader=reader, alarms=alarms, work=work, completeness=seen, charges={pot.id: 10.0})


def said(facts: Facts) -> Iterator[str]:
    """Every text of the report, its charts', and those of the message that brings it."""
    whole = document(facts, ["a change"], 2)
    yield text(whole, "")

    def strings(value: object) -> Iterator[str]:
        if isinstance(value, dict):
            for name, each in value.items():
                if name == "svg":
                    yield from re.findall(r"<text[^>]*>([^<]*)</text>", str(each))
                elif name not in ("kind", "tone", "id", "language"):
                    yield from strings(each)
        elif isinstance(value, list | tuple):
            for each in value:
                yield from strings(each)
        elif isinstance(value, str):
            yield value

    yield from strings(asdict(whole))


def test_a_report_in_another_language_has_nothing_of_english(week: TrueWeek, monkeypatch: pytest.MonkeyPatch) -> None:
    pseudo.patch(monkeypatch)
    facts, place = full(week, pseudo.READER), week.facts.place
    things = [*place.rooms, *place.reservoirs, *place.lines, *place.containers]
    given = {facts.facility.name, "Pot 1", "Its message.", "a change", *_NAMES, *(each.name for each in things)}
    german = Locale("de")
    dates = {*german.days["stand-alone"]["abbreviated"].values(), *german.months["stand-alone"]["abbreviated"].values()}
    texts = list(said(facts))
    assert len(texts) > 300
    left = {word for each in texts for word in pseudo.never_looked_up(each, given)}
    assert left <= {each.rstrip(".") for each in dates}


def test_what_changed_in_another_language_has_nothing_of_english(
    week: TrueWeek, monkeypatch: pytest.MonkeyPatch
) -> None:
    pseudo.patch(monkeypatch)
    now = key_figures(week.facts)
    before = {"facility": dict.fromkeys(now["facility"]), "rooms": {"gone": {}}}
    with speaking(pseudo.READER):
        told = changes(before, now, {})
    assert len(told) > 8
    assert {word for each in told for word in pseudo.never_looked_up(each, now["rooms"])} == {"gone"}


def test_figures_are_in_the_units_and_signs_of_the_facility(week: TrueWeek) -> None:
    english = "\n".join(said(full(week, Choices())))
    german = "\n".join(said(full(week, Choices("de", "kPa", "gal", "12h"))))
    assert "Median [mbar]" in english and "[l]" in english and "kPa a day" not in english
    assert "Median [kPa]" in german and "[gal]" in german
    assert "mbar" not in german and not re.search(r"\d l\b", german)
    assert re.search(r"trocken 18,0\b", german) and re.search(r"\d,\d %", german)
    assert re.search(r"\d:\d\d [AP]M", german)


def test_tables_for_programs_are_the_same_whatever_the_facility_reads(week: TrueWeek) -> None:
    files = [
        [(file.name, file.body) for file in data(replace(week.facts, reader=reader)) if file.name.endswith(".csv")]
        for reader in (Choices(), Choices("de", "kPa", "gal", "12h"))
    ]
    assert files[0] == files[1] and len(files[0]) > 3


def test_the_files_say_their_language(week: TrueWeek) -> None:
    made: list[File] = list(papers(full(week, Choices("de", "kPa")), ("a4",), lambda _what, _share: None))
    html, pdf = made
    assert b'<html lang="de">' in html.body and "Zum Inhalt" in html.body.decode()
    assert b"/Lang (de)" in pdf.body or b"/Lang(de)" in pdf.body
