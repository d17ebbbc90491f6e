"""What `run` and `demo` have in common: a database and a broker, embedded where none is named, and our services.

Not here: the demo's fleet.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from wickwatch.cli.processes import Part, Tree, environment, service
from wickwatch.embedded import Broker, Postgres
from wickwatch.settings import Settings
from wickwatch.store import migrate

#: How long a part that lives may take to answer: a busy machine is no fault, and a part that ends is told of at once.
START_S = 300.0


@dataclass(frozen=True)
class Everything:
    """A migrated database, a broker and a tree of processes; `settings` name both."""

    tree: Tree
    settings: Settings
    logs: Path

    def with_settings(self, **found: str) -> Everything:
        """The same, with some settings filled in."""
        return replace(self, settings=self.settings.model_copy(update=found))

    def services(self, *names: str) -> None:
        """Start services of ours by name."""
        for name in names:
            self.start(service(name, self.logs))

    def start(self, part: Part, **more: str) -> None:
        """Start a part with our settings, and `more` in its environment."""
        self.tree.start(part, environment(self.settings) | more)

    def web(self, host: str, port: int, stop: threading.Event) -> None:
        """Start the pages and wait until they answer."""
        import httpx

        reached = "127.0.0.1" if host in ("0.0.0.0", "::") else host  # noqa: S104

        def ready() -> bool:
            try:
                return httpx.get(f"http://{reached}:{port}/readyz", timeout=10, trust_env=False).status_code == 200
            except httpx.HTTPError:
                return False

        self.start(service("web", self.logs, "--host", host, "--port", str(port)))
        self.tree.wait_for(ready, "the part that shows pages", START_S, stop)


@contextmanager
def everything(tree: Tree, settings: Settings, folder: Path) -> Iterator[Everything]:
    """Start what is embedded, bring the schema up to date, and stop all of it at the end, whatever happens."""
    database, broker = Postgres(folder), Broker(folder)
    try:
        if not settings.database_url:
            database.start()
            tree.watch("the embedded database", database.process, database.log)
        if not settings.mqtt_url:
            broker.start()
            tree.watch("the embedded broker", broker.process, broker.log)
        found = {
            "database_url": settings.database_url or database.url,
            "mqtt_url": settings.mqtt_url or broker.url,
        }
        complete = settings.model_copy(update=found)
        migrate(complete.database_url)
        yield Everything(tree, complete, folder / "log")
    finally:
        tree.forget("the embedded database")  # stopped last and in its own way: the others still write to it
        tree.stop()
        database.stop()
