"""One PostgreSQL server for one run: its own data, its own port, started, killed and restarted at will.

Not here: where the binaries come from (`plain`, `timescale`) and the databases in it (`databases`). `fsync` is off,
which a killed server survives and a machine without power would not.
"""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import psycopg

from tests.parts.process import folder, free_port, may_bind, memory, spawn, stop, unprivileged, wait_until

#: Of every server that tests start.
SETTINGS = {
    "listen_addresses": "127.0.0.1",
    "unix_socket_directories": "",
    "fsync": "off",
    "full_page_writes": "off",
    "max_connections": "200",
    "max_worker_processes": "48",
    "max_wal_size": "4GB",
    "shared_buffers": "256MB",
    "timezone": "UTC",
}


@dataclass(frozen=True)
class Binaries:
    """A PostgreSQL installation; `root` is set where it only runs with that folder as its root directory."""

    name: str
    folder: Path
    settings: dict[str, str] = field(default_factory=dict)
    root: Path | None = None

    @property
    def outside(self) -> Path:
        """The folder of the binaries as this process sees it."""
        return self.folder if self.root is None else self.root / self.folder.relative_to("/")


@dataclass
class Server:
    """A server's life. `start`, `stop` and `kill` may be called any number of times."""

    binaries: Binaries
    home: Path
    port: int
    user: pwd.struct_passwd | None
    bound: bool = False  # home is shown to the server as /srv of its root directory
    process: subprocess.Popen[bytes] | None = None

    @property
    def name(self) -> str:
        """Of the installation: plain or timescaledb."""
        return self.binaries.name

    def url(self, database: str = "postgres") -> str:
        """The address of one database in this server."""
        return f"postgresql://postgres@127.0.0.1:{self.port}/{database}"

    def start(self) -> None:
        """Start and wait until it answers. After `kill` its old helpers may still be leaving, hence the tries."""
        for _ in range(50):
            if self._started():
                return
        raise RuntimeError(f"PostgreSQL does not start:\n{(self.home / 'log').read_text()[-2000:]}")

    def stop(self) -> None:
        """Shut down fast and cleanly."""
        if self.process is not None:
            stop(self.process, signal.SIGINT, 20)

    def kill(self) -> None:
        """`kill -9`, as a crash would."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def _started(self) -> bool:
        process = self._spawn("postgres", "-D", self._inside(self.home / "data"), dies_by=signal.SIGQUIT)
        self.process = process
        wait_until(lambda: process.poll() is not None or self._answers(), "PostgreSQL answering", 60)
        return process.poll() is None

    def _answers(self) -> bool:
        try:
            psycopg.connect(self.url(), connect_timeout=2).close()
        except psycopg.OperationalError:
            return False
        return True

    def _inside(self, path: Path) -> str:
        root = self.binaries.root
        if root is None:
            return str(path)
        return str(Path("/srv") / path.relative_to(self.home) if self.bound else Path("/") / path.relative_to(root))

    def _spawn(
        self, program: str, *arguments: str, dies_by: signal.Signals = signal.SIGTERM
    ) -> subprocess.Popen[bytes]:
        bin_folder = self.binaries.folder / "bin"
        env = {"LC_ALL": "C.UTF-8", "PATH": f"{bin_folder}:/usr/bin:/bin"}
        if self.binaries.root is None:
            env = {**os.environ, **env}
        return spawn(
            [str(bin_folder / program), *arguments],
            self.home / "log",
            user=self.user,
            root=self.binaries.root,
            bind=(self.home, self.binaries.root / "srv") if self.bound and self.binaries.root else None,
            env=env,
            dies_by=dies_by,
        )

    def initialise(self, more: dict[str, str]) -> None:
        """Make the data folder, with `more` settings."""
        data = self.home / "data"
        data.mkdir(mode=0o700)
        if self.user is not None:
            os.chown(data, self.user.pw_uid, self.user.pw_gid)
        made = self._spawn("initdb", "-D", self._inside(data), "-U", "postgres", "-A", "trust", "-E", "UTF8",
                           "--locale=C.UTF-8", "--no-sync", "--no-instructions")  # fmt: skip
        if made.wait(120) != 0:
            raise RuntimeError(f"initdb failed:\n{(self.home / 'log').read_text()[-2000:]}")
        settings = {**SETTINGS, "port": str(self.port), **self.binaries.settings, **more}
        with (data / "postgresql.conf").open("a") as conf:
            conf.writelines(f"{name} = '{value}'\n" for name, value in settings.items())


@contextmanager
def running(binaries: Binaries, *, in_memory: bool = False) -> Iterator[Server]:
    """A server of one's own for the length of the block.

    `in_memory` keeps its files in memory where the machine has room: making a database is a thousand small files, five
    times cheaper there. Measurements and tests of crashes stay on disk.
    """
    base = memory() if in_memory else None
    tree = binaries.root
    bound = tree is not None and base is not None and may_bind(base, tree / "srv")
    if tree is not None and not bound:
        base = tree / "srv"
    with folder(base) as home:
        user = _user_of(binaries)
        server = Server(_within_reach(binaries, user, home), home, free_port(), user, bound)
        server.initialise({"max_wal_size": "512MB"} if in_memory else {})
        try:
            server.start()
            yield server
        finally:
            server.stop()


def _user_of(binaries: Binaries) -> pwd.struct_passwd | None:
    """Whom to run as. PostgreSQL refuses root, and looks its user up by number in its own root directory."""
    if binaries.root is None:
        return unprivileged("postgres")
    for line in (binaries.root / "etc/passwd").read_text().splitlines():
        name, password, uid, gid, gecos, home, shell = line.split(":")
        if name == "postgres":
            return pwd.struct_passwd((name, password, int(uid), int(gid), gecos, home, shell))
    raise RuntimeError(f"{binaries.root} has no user postgres")


def _within_reach(binaries: Binaries, user: pwd.struct_passwd | None, home: Path) -> Binaries:
    """The binaries, copied where the user can reach them if a folder above them is closed (a checkout in /root)."""
    closed = any(not above.stat().st_mode & 0o001 for above in binaries.folder.parents)
    if user is None or binaries.root is not None or not closed:
        return binaries
    for name in (binaries.folder.parent.name, f"{binaries.folder.parent.name}.libs"):
        shutil.copytree(binaries.folder.parents[1] / name, home / name, symlinks=True)
    return Binaries(binaries.name, home / binaries.folder.parent.name / binaries.folder.name, binaries.settings)
