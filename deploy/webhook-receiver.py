"""A receiver of signed webhooks: checks each call as deploy/webhooks.md says, and acts on it once.

    WEBHOOK_SECRET=whsec_… python3 deploy/webhook-receiver.py 8080

Only the standard library is needed. Replace `act` by what shall happen.
"""

from __future__ import annotations

import hmac
import json
import os
import sys
import threading
import time
from base64 import b64decode, b64encode
from collections.abc import Mapping
from hashlib import sha256
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

#: A timestamp further off than this is refused [s], and an id is remembered for twice as long.
MOST_OFF_S = 300

#: Longer bodies are none of Wickwatch's.
BODY_MOST = 1 << 20


class Checker:
    """Tells calls that are genuine, fresh and new from all others; keeps the ids it has seen."""

    def __init__(self, secret: str) -> None:
        self._key = b64decode(secret.removeprefix("whsec_"))
        self._seen: dict[str, float] = {}
        self._lock = threading.Lock()

    def status(self, headers: Mapping[str, str], body: bytes, now: float) -> int:
        """200 for a call to act on, 208 for one that was acted on before, 400 for one to refuse."""
        id, stamp = headers.get("webhook-id", ""), headers.get("webhook-timestamp", "")
        if not id or not stamp.isdigit() or abs(now - int(stamp)) > MOST_OFF_S:
            return 400
        mac = hmac.digest(self._key, f"{id}.{stamp}.".encode() + body, sha256)
        wanted = f"v1,{b64encode(mac).decode()}"
        given = headers.get("webhook-signature", "").split()
        if not any(hmac.compare_digest(each.encode(), wanted.encode()) for each in given):
            return 400
        with self._lock:
            self._seen = {known: at for known, at in self._seen.items() if now - at <= 2 * MOST_OFF_S}
            if id in self._seen:
                return 208
            self._seen[id] = now
        return 200


def act(call: Mapping[str, object]) -> None:
    """What shall happen; here it is printed."""
    print(json.dumps(call, ensure_ascii=False, indent=1), flush=True)


def main() -> None:
    """Serve on the port given."""
    checker = Checker(os.environ["WEBHOOK_SECRET"])

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(min(int(self.headers.get("content-length") or 0), BODY_MOST))
            status = checker.status(self.headers, body, time.time())
            if status == 200:
                act(json.loads(body))
            self.send_response(status)
            self.send_header("content-length", "0")
            self.end_headers()

    ThreadingHTTPServer(("", int(sys.argv[1])), Handler).serve_forever()


if __name__ == "__main__":
    main()
