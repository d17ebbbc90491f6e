"""Free ports on loopback, asked of the system."""

from __future__ import annotations

import socket

from wickwatch.errors import InputError


def free_port() -> int:
    """A port that is free now; another program may take it before it is used, which then shows as an error."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def must_be_free(port: int, thing: str) -> None:
    """Raise InputError where something listens on the port already."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except (OSError, OverflowError) as error:
            raise InputError(
                thing,
                port,
                "a port that no other program uses; choose another, such as --port 8010",
            ) from error
