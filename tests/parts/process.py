"""Child processes that cannot outlive the run that started them.

Not here: what the processes are. The kernel is asked to end a child when its parent dies, since finalizers do not run
after `kill -9` and a forgotten server would hold its port and files for days.
"""

from __future__ import annotations

import ctypes
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

_PR_SET_PDEATHSIG = 1
_CLONE_NEWNS, _MS_BIND, _MS_REC, _MS_PRIVATE = 0x20000, 0x1000, 0x4000, 0x40000
_LIBC = ctypes.CDLL(None, use_errno=True)


def unprivileged(*names: str) -> pwd.struct_passwd | None:
    """The first of these users that exists, else `nobody`; None where we are not root and so need nobody else."""
    if os.geteuid() != 0:
        return None
    for name in names:
        try:
            return pwd.getpwnam(name)
        except KeyError:
            continue
    return pwd.getpwnam("nobody")


def spawn(
    command: Sequence[str],
    log: Path,
    *,
    user: pwd.struct_passwd | None = None,
    root: Path | None = None,
    bind: tuple[Path, Path] | None = None,
    env: Mapping[str, str] | None = None,
    dies_by: signal.Signals = signal.SIGTERM,
) -> subprocess.Popen[bytes]:
    """Start a command with its output in `log`; it gets `dies_by` when the calling thread ends, however that happens.

    `root` is a folder to make the root directory, `user` whom to run as, `bind` a folder to show in the place of
    another to this child alone; all need us to be root.
    """
    shown = None if bind is None else [os.fsencode(path) for path in bind]

    def in_child() -> None:
        if shown is not None:
            done = [
                _LIBC.unshare(_CLONE_NEWNS),
                _LIBC.mount(None, b"/", None, _MS_REC | _MS_PRIVATE, None),
                _LIBC.mount(*shown, None, _MS_BIND, None),
            ]
            if any(done):
                raise OSError(ctypes.get_errno(), "mount")
        if root is not None:
            os.chroot(root)
            os.chdir("/")
        if user is not None:
            os.initgroups(user.pw_name, user.pw_gid) if root is None else os.setgroups([])
            os.setgid(user.pw_gid)
            os.setuid(user.pw_uid)
        # Last, because the kernel forgets the request when the user changes.
        _LIBC.prctl(_PR_SET_PDEATHSIG, int(dies_by))

    with log.open("ab") as out:
        return subprocess.Popen(
            list(command),
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=subprocess.STDOUT,
            env=None if env is None else dict(env),
            start_new_session=True,
            preexec_fn=in_child,  # noqa: PLW1509 - nothing here holds a lock across a fork
        )


def stop(process: subprocess.Popen[bytes], by: signal.Signals = signal.SIGTERM, limit_s: float = 10.0) -> None:
    """End a child: politely, then for certain."""
    if process.poll() is None:
        process.send_signal(by)
        try:
            process.wait(limit_s)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def wait_until(condition: Callable[[], bool], what: str, limit_s: float = 15.0, every_s: float = 0.02) -> None:
    """Return as soon as the condition holds; TimeoutError with `what` when it does not within the limit."""
    end = time.monotonic() + limit_s
    while not condition():
        if time.monotonic() > end:
            raise TimeoutError(f"{what} did not happen within {limit_s:g} s")
        time.sleep(every_s)


def free_port() -> int:
    """A loopback port that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(port: int) -> bool:
    """Whether something listens on this loopback port."""
    with socket.socket() as probe:
        probe.settimeout(1.0)
        return probe.connect_ex(("127.0.0.1", port)) == 0


def may_bind(source: Path, target: Path) -> bool:
    """Whether `spawn` can `bind`: root in a container often may not."""
    if os.geteuid() != 0 or shutil.which("unshare") is None:
        return False
    tried = ["unshare", "--mount", "mount", "--bind", str(source), str(target)]
    return subprocess.run(tried, capture_output=True, check=False).returncode == 0


def memory() -> Path | None:
    """A folder whose files are kept in memory, where there is one with room for a few test databases."""
    shm = Path("/dev/shm")
    if not shm.is_dir() or not os.access(shm, os.W_OK):
        return None
    state = os.statvfs(shm)
    return shm if state.f_bavail * state.f_frsize > 4 << 30 else None


@contextmanager
def folder(base: Path | None = None) -> Iterator[Path]:
    """A folder for one run, removed at its end; those of runs that were killed are removed by the next one."""
    base = base or Path(tempfile.gettempdir())
    for old in base.glob("wickwatch-parts-*"):
        owner = old.name.split("-")[2]
        if owner.isdigit() and not Path(f"/proc/{owner}").exists():
            shutil.rmtree(old, ignore_errors=True)
    path = Path(tempfile.mkdtemp(prefix=f"wickwatch-parts-{os.getpid()}-", dir=base))
    path.chmod(0o755)
    try:
        yield path
    finally:
        shutil.rmtree(path, ignore_errors=True)
