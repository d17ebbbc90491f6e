"""Any other service, by a URL that a multi-service library understands.

The library says only whether it went well; why not is in what it logs meanwhile, of which this thread's lines are
kept. Not here: which URLs are taken (`notify.services`).
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from hashlib import sha256

from wickwatch.errors import InputError
from wickwatch.notify import services
from wickwatch.notify.channels.channel import Result
from wickwatch.store.notices import Claimed


class Service:
    """Sends through whatever service a contact names."""

    def send(self, notice: Claimed, at: datetime) -> Result:
        """Hand the notice to the service once."""
        from apprise import Apprise, AppriseAsset, NotifyType  # noqa: PLC0415 -- as in `notify.services`

        try:
            services.check(notice.address)
        except InputError as error:
            return Result(False, str(error), final=True)
        # Nothing is kept between calls, and nothing is read from a file.
        asset = AppriseAsset(async_mode=False, app_id="Wickwatch", app_desc="Wickwatch", app_url="")
        service = Apprise.instantiate(notice.address, asset=asset)
        with _heard() as said:
            taken = service is not None and service.notify(
                body=body(notice), title=notice.title, notify_type=NotifyType.WARNING
            )
        if taken:
            return Result(True, "taken by the service")
        return Result(False, "; ".join(said) or "the service did not take it")


def body(notice: Claimed) -> str:
    """The text, with a reference that is the same for every try, since services carry no key of ours."""
    return f"{notice.body.rstrip()}\n\nCall {sha256(notice.key.encode()).hexdigest()[:8]}\n"


@contextmanager
def _heard() -> Iterator[list[str]]:
    """What the library logs in this thread while the block lasts; its lines hold no secrets above debug."""
    found: list[str] = []
    here = threading.get_ident()

    class Ear(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            if record.thread == here:
                found.append(" ".join(record.getMessage().split()))

    logger, ear = logging.getLogger("apprise"), Ear(logging.WARNING)
    logger.addHandler(ear)
    try:
        yield found
    finally:
        logger.removeHandler(ear)
