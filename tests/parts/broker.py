"""A real mosquitto with the deployed settings and access rules, which can be killed and started again on its data.

Not here: clients. Accounts are made at the start; the password of each is its name reversed, which no test needs to
know, because `url(name)` carries it.
"""

from __future__ import annotations

import os
import pwd
import signal
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from tests.parts.packages import program
from tests.parts.process import answers, folder, free_port, spawn, stop, unprivileged, wait_until

_DEPLOYED = Path(__file__).parents[2] / "deploy" / "mosquitto"

#: May read and publish everything (the services), publish everything (the simulator).
SERVICES, SIMULATOR = "wickwatch", "simulator"


@dataclass
class Broker:
    """A broker's life. A gateway's account is `facility/gateway`."""

    home: Path
    port: int
    user: pwd.struct_passwd | None
    process: subprocess.Popen[bytes] | None = None
    host: str = "127.0.0.1"

    def url(self, account: str = SERVICES) -> str:
        """The address with an account's name and password in it."""
        return f"mqtt://{quote(account, safe='')}:{quote(password(account), safe='')}@{self.host}:{self.port}"

    def start(self) -> None:
        """Start and wait until it takes connections."""
        command = [str(program("mosquitto", "mosquitto")), "-c", str(self.home / "mosquitto.conf")]
        self.process = running = spawn(command, self.home / "log", user=self.user)
        wait_until(lambda: running.poll() is not None or answers(self.port), "mosquitto answering")
        if running.poll() is not None:
            raise RuntimeError(f"mosquitto does not start:\n{(self.home / 'log').read_text()[-2000:]}")

    def stop(self) -> None:
        """Ask it to end; it saves what it holds."""
        if self.process is not None:
            stop(self.process, signal.SIGTERM)

    def save(self) -> None:
        """Have it write what it holds, sessions with it, as its own interval does in time."""
        assert self.process is not None
        saved = self.home / "data" / "mosquitto.db"
        before = saved.stat().st_mtime_ns if saved.exists() else 0
        self.process.send_signal(signal.SIGUSR1)
        wait_until(lambda: saved.exists() and saved.stat().st_mtime_ns > before, "mosquitto saving")

    def kill(self) -> None:
        """`kill -9`, as a crash would."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def set_accounts(self, names: Sequence[str]) -> None:
        """Make these the accounts; a running broker takes them over at once."""
        passwords = self.home / "passwords"
        passwords.write_text("".join(f"{name}:{password(name)}\n" for name in names))
        _own(passwords, self.user)
        subprocess.run(
            [program("mosquitto_passwd", "mosquitto"), "-U", str(passwords)], check=True, capture_output=True
        )
        _own(passwords, self.user)
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGHUP)


def password(account: str) -> str:
    """An account's password in tests."""
    return account[::-1]


@contextmanager
def running(gateways: Sequence[str] = (), settings: str = "") -> Iterator[Broker]:
    """A broker of one's own; `gateways` are accounts such as `birchwood/gw-01`, `settings` more lines of its file."""
    with folder() as home:
        user = unprivileged("mosquitto")
        broker = Broker(home, free_port(), user)
        data = home / "data"
        data.mkdir(mode=0o700)
        acl = home / "acl"
        acl.write_text((_DEPLOYED / "acl").read_text())
        for path in (home, data, acl):
            _own(path, user, mode=0o700)
        (home / "mosquitto.conf").write_text(
            (_DEPLOYED / "mosquitto.conf").read_text()
            + f"listener {broker.port} {broker.host}\n"
            + f"persistence_location {data}/\n"
            + f"password_file {home}/passwords\n"
            + f"acl_file {acl}\n"
            + settings
        )
        broker.set_accounts([SERVICES, SIMULATOR, *gateways])
        try:
            broker.start()
            yield broker
        finally:
            broker.stop()


def describe() -> str:
    """Which broker it is, for a person."""
    said = subprocess.run([program("mosquitto", "mosquitto"), "-h"], capture_output=True, text=True, check=False).stdout
    return said.splitlines()[0]


def _own(path: Path, user: pwd.struct_passwd | None, mode: int | None = None) -> None:
    if user is not None:
        os.chown(path, user.pw_uid, user.pw_gid)
    path.chmod(0o600 if mode is None else mode)
