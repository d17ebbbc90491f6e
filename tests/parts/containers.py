"""TimescaleDB in a container, from the image that docker-compose.yml uses, where a container engine answers.

`TEST_CONTAINERS=no` in the environment keeps a run to packages, whose servers start sooner. Not here: building for a
deployment. The image's own start is not used, because it makes a role without the right to
create databases; the server and the extension are the same.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg

from tests.parts.postgres import SETTINGS
from tests.parts.process import free_port, wait_until
from tests.parts.timescale import PRELOAD

_REPOSITORY = Path(__file__).parents[2]
_BASE, _IMAGE = "debian:trixie-slim", "wickwatch-timescaledb"
_LABEL = "wickwatch-parts"


def provide() -> bool:
    """Build the image where an engine answers and the base can be had; says so where that fails."""
    if not _engine_answers():
        return False
    if not _docker("image", "inspect", _BASE) and not _docker("pull", "-q", _BASE):
        print(f"A container engine answers, but {_BASE} cannot be pulled; using packages instead", file=sys.stderr)
        return False
    dockerfile = _REPOSITORY / "deploy" / "Dockerfile"
    build = ["build", "-q", "-f", str(dockerfile), "--target", "timescaledb", "-t", _IMAGE, str(_REPOSITORY)]
    if not _docker(*build):
        print("A container engine answers, but the image does not build; using packages instead", file=sys.stderr)
        return False
    return True


def available() -> bool:
    """Whether an engine answers and holds the image."""
    return _engine_answers() and _docker("image", "inspect", _IMAGE)


@dataclass
class Contained:
    """A server's life in a container, with the same words as `postgres.Server`."""

    container: Any
    port: int
    name: str = "timescaledb"

    def url(self, database: str = "postgres") -> str:
        """The address of one database in this server."""
        return f"postgresql://postgres@127.0.0.1:{self.port}/{database}"

    def start(self) -> None:
        """Start it again and wait until it answers."""
        self.container.get_wrapped_container().start()
        self.wait()

    def stop(self) -> None:
        """Shut down fast and cleanly."""
        self.container.get_wrapped_container().stop(timeout=20)

    def kill(self) -> None:
        """`kill -9`, as a crash would."""
        self.container.get_wrapped_container().kill()

    def wait(self) -> None:
        """Return when the server answers."""

        def answers() -> bool:
            try:
                psycopg.connect(self.url(), connect_timeout=2).close()
            except psycopg.OperationalError:
                return False
            return True

        wait_until(answers, "PostgreSQL in its container answering", 60)


@contextmanager
def running() -> Iterator[Contained]:
    """A server of one's own for the length of the block."""
    # Its helper that removes forgotten containers comes from a registry; `_remove_forgotten` does that here.
    os.environ.setdefault("TESTCONTAINERS_RYUK_DISABLED", "true")
    from testcontainers.core.container import DockerContainer

    _remove_forgotten()
    port = free_port()
    settings = {**SETTINGS, **PRELOAD, "listen_addresses": "*"}
    data = "/tmp/pg"
    script = (
        f"set -e; test -d {data} || {{ initdb -D {data} -U postgres -A trust -E UTF8 --locale=C.UTF-8 --no-sync;"
        f" echo 'host all all all trust' >> {data}/pg_hba.conf; }};"
        f" exec postgres -D {data} " + " ".join(f"-c {name}='{value}'" for name, value in settings.items())
    )
    container = DockerContainer(_IMAGE).with_kwargs(
        entrypoint=["bash", "-c", script],
        labels={_LABEL: str(os.getpid())},
        healthcheck={"test": ["NONE"]},
    )
    # On loopback alone, since this server trusts everybody; `with_bind_ports` knows no address.
    container.ports["5432/tcp"] = ("127.0.0.1", port)
    with container:
        server = Contained(container, port)
        server.wait()
        yield server


def _engine_answers() -> bool:
    if os.environ.get("TEST_CONTAINERS") == "no":
        return False
    return shutil.which("docker") is not None and _docker("version", "--format", "{{.Server.Version}}")


def _docker(*arguments: str) -> bool:
    return subprocess.run(["docker", *arguments], capture_output=True, check=False).returncode == 0


def _remove_forgotten() -> None:
    """Remove containers of runs that were killed before they could."""
    shown = subprocess.run(
        ["docker", "ps", "-a", "--filter", f"label={_LABEL}", "--format", f'{{{{.ID}}}} {{{{.Label "{_LABEL}"}}}}'],
        capture_output=True,
        text=True,
        check=False,
    ).stdout
    for line in shown.splitlines():
        container, owner = line.split()
        if not Path(f"/proc/{owner}").exists():
            _docker("rm", "-f", container)
