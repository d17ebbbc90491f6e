"""Find one reading through the API, within a minute: BASE CHANNEL SECONDS VALUE, with the token in TOKEN."""

import json
import os
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from datetime import UTC, datetime, timedelta

base, channel, seconds, value = sys.argv[1:]
at = datetime.fromtimestamp(int(seconds), UTC)
query = urllib.parse.urlencode(
    {
        "channel": channel,
        "from": (at - timedelta(minutes=1)).isoformat(),
        "to": (at + timedelta(minutes=1)).isoformat(),
    }
)
request = urllib.request.Request(
    f"{base}/api/v1/readings?{query}", headers={"Authorization": f"Bearer {os.environ['TOKEN']}"}
)
said = "nothing"
for _ in range(60):
    try:
        with urllib.request.urlopen(request, timeout=5) as answer:
            said = answer.read().decode()
    except urllib.error.HTTPError as error:
        said = f"{error.code} {error.read().decode()}"
    else:
        if any(row.get("value") == float(value) for row in json.loads(said)["items"]):
            print(said)
            sys.exit(0)
    time.sleep(1)
sys.exit(f"the reading was not found; last answer: {said[:1000]}")
