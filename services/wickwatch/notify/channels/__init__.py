"""Ways a notice leaves: one file each, one small protocol.

Not here: when a notice is sent or tried again (`notify.outbox`).
"""

from wickwatch.notify.channels.channel import Channel, Result
from wickwatch.notify.channels.email import Email
from wickwatch.notify.channels.push import Push
from wickwatch.notify.channels.service import Service
from wickwatch.notify.channels.webhook import Webhook

__all__ = ["Channel", "Email", "Push", "Result", "Service", "Webhook"]
