"""The embedded broker's own process: `python -m wickwatch.embedded.broker_process PORT` until SIGTERM."""

from __future__ import annotations

import asyncio
import logging
import signal
import sys

from amqtt.broker import Broker


async def _serve(port: int) -> None:
    broker = Broker(
        {
            "listeners": {
                "default": {
                    "type": "tcp",
                    "bind": f"127.0.0.1:{port}",
                    "max_connections": 1000,
                }
            },
            "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
        }
    )
    done = asyncio.Event()
    for wanted in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(wanted, done.set)
    await broker.start()
    await done.wait()
    await broker.shutdown()


if __name__ == "__main__":
    logging.basicConfig(level=logging.WARNING)
    asyncio.run(_serve(int(sys.argv[1])))
