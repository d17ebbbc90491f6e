"""`wickwatch fleet`: what would change is shown, then changed; a mistake changes nothing."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import psycopg
import pytest

from tests.integration.cli.conftest import EXAMPLE, Cli


@pytest.fixture
def database_url(plain_url: str) -> str:
    """One database is enough here: what is stored is tested on both elsewhere."""
    return plain_url


def test_a_dry_run_shows_every_change_and_makes_none(cli: Cli) -> None:
    ran = cli("fleet", "apply", EXAMPLE, "--dry-run")
    assert ran.code == 0
    assert "add     facility birchwood, room room-03, container pot-02\n" in ran.out
    assert ran.out.endswith("11 to add, 8 to attach; nothing was changed\n")
    assert cli("fleet", "export").out == ""


def test_applying_shows_the_same_changes_and_makes_them(cli: Cli) -> None:
    shown = cli("fleet", "apply", EXAMPLE, "--dry-run").out.splitlines()[:-1]
    ran = cli("fleet", "apply", EXAMPLE)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.splitlines() == [*shown, "11 to add, 8 to attach; done"]
    assert cli("fleet", "apply", EXAMPLE).out == "nothing to change\n"


def test_channels_that_were_heard_before_they_are_attached_are_told(cli: Cli, tmp_path: Path) -> None:
    bare = "".join(line for line in EXAMPLE.read_text().splitlines(keepends=True) if "ff1:tension" not in line)
    assert cli("fleet", "apply", "-", stdin=bare).code == 0
    heard = tmp_path / "heard.csv"
    yesterday = (datetime.now(UTC) - timedelta(days=1)).isoformat()
    heard.write_text(f"channel,at,value\nurn:dev:mac:0024befffe804ff1:tension,{yesterday},90\n")
    assert cli("import", heard).code == 0
    told = "1 of these channels were heard before: what they measured until then belongs to nothing"
    assert cli("fleet", "apply", EXAMPLE).out.splitlines()[-2:] == ["1 to attach; done", told]


def test_an_exported_file_can_be_applied_again(fleet: Cli, tmp_path: Path) -> None:
    out = tmp_path / "fleet.toml"
    assert fleet("fleet", "export", "--out", out).code == 0
    assert fleet("fleet", "apply", out).out == "nothing to change\n"
    assert fleet("fleet", "apply", "-", stdin=fleet("fleet", "export").out).out == "nothing to change\n"


def test_one_facility_of_several_is_exported_by_its_slug(fleet: Cli, tmp_path: Path) -> None:
    second = EXAMPLE.read_text().replace("birchwood", "elmtree")
    assert fleet("fleet", "apply", "-", stdin=second).code == 0
    assert fleet("fleet", "export").out.count("[[facility]]") == 2
    assert fleet("fleet", "export", "--facility", "elmtree").out.count("[[facility]]") == 1
    ran = fleet("fleet", "export", "--facility", "ash")
    assert ran.code == 1
    assert ran.err == "wickwatch fleet: facility is 'ash'; accepted: one of: birchwood, elmtree\n"


def test_every_mistake_of_a_file_is_told_and_nothing_is_changed(cli: Cli, tmp_path: Path) -> None:
    broken = tmp_path / "fleet.toml"
    broken.write_text(EXAMPLE.read_text().replace("Europe/Oslo", "Nowhere").replace('line = "r4-line"', 'line = "x"'))
    ran = cli("fleet", "apply", broken)
    assert ran.code == 1
    assert ran.err.startswith(f"wickwatch fleet: {broken} has 2 problems:\n  facility birchwood: zone is 'Nowhere'")
    assert "Traceback" not in ran.err
    assert cli("fleet", "export").out == ""


def test_an_overlapping_attachment_is_told_and_nothing_is_changed(fleet: Cli) -> None:
    moved = EXAMPLE.read_text().replace("ff4:tension", "ff9:tension")
    ran = fleet("fleet", "apply", "-", "--from", "2020-01-01T00:00:00Z", stdin=moved)
    assert ran.code == 1
    assert "ff4:tension is where it is since" in ran.err
    assert fleet("fleet", "apply", EXAMPLE).out == "nothing to change\n"


def test_a_file_that_is_not_there_is_told_in_one_sentence(cli: Cli) -> None:
    ran = cli("fleet", "apply", "nowhere.toml")
    assert (ran.code, ran.err) == (1, "wickwatch fleet: nowhere.toml: No such file or directory\n")


def test_a_thousand_rooms_are_applied_in_seconds(cli: Cli, tmp_path: Path) -> None:
    room = """
      [[facility.room]]
      slug = "room-{n:04d}"
      lights_on = "06:00"
      lights_off = "18:00"
        [[facility.room.reservoir]]
        slug = "tank"
        shape = "cylinder"
        diameter_mm = 580
        height_mm = 900
        outlet_mm = 40
        level = "urn:dev:mac:{n:016x}:level"
        [[facility.room.line]]
        slug = "line"
        reservoir = "tank"
        kind = "loop"
    """
    pot = (
        '[[facility.room.container]]\nslug = "pot-{m}"\nline = "line"\ntension = "urn:dev:mac:{n:08x}{m:08x}:tension"\n'
    )
    rooms = [room.format(n=n) + "".join(pot.format(n=n, m=m) for m in range(1, 4)) for n in range(1000)]
    file = tmp_path / "large.toml"
    file.write_text('[[facility]]\nslug = "large"\nzone = "UTC"\n' + "".join(rooms))
    ran = cli("fleet", "apply", file)  # the limit is the suite's own: 90 seconds, on a machine busy with other tests
    assert ran.code == 0
    assert ran.out.endswith("6001 to add, 4000 to attach; done\n")
    assert cli("fleet", "apply", file).out == "nothing to change\n"


def test_two_at_once_apply_one_after_the_other(database_url: str, clean_environment: None, tmp_path: Path) -> None:
    environment = {"WICKWATCH_DATABASE_URL": database_url, "PATH": "/usr/bin:/bin"}
    command = [sys.executable, "-m", "wickwatch", "fleet", "apply", str(EXAMPLE)]
    both = [subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, cwd=tmp_path) for _ in range(2)]
    said = sorted(process.communicate(timeout=60)[0].decode().splitlines()[-1] for process in both)
    assert [process.returncode for process in both] == [0, 0]
    assert said == ["11 to add, 8 to attach; done", "nothing to change"]
    with psycopg.connect(database_url) as conn:
        assert conn.execute("SELECT count(*) FROM container").fetchone() == (3,)
