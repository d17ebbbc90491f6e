"""Run inside the app's image: print an API token of a new administrator, for `compose-test.sh`."""

import os
import secrets

from wickwatch.store import people, tokens
from wickwatch.store.connect import connect

with connect(os.environ["WICKWATCH_DATABASE_URL"], "compose-test") as connection:
    people.add_person(connection, "compose test", "administrator", None, secrets.token_urlsafe(16))
    print(tokens.new_token(connection, "compose test", "compose test"))
