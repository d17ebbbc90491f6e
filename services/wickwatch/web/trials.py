"""Starts the process that works out what a change of rules would have done, and sees to its end.

Not here: what it works out (`watch.rule_trial`), or what is asked for (`store.rule_trials`).
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from datetime import UTC, datetime
from uuid import UUID

import psycopg
from psycopg_pool import PoolTimeout

from wickwatch import log
from wickwatch.store import rule_trials as stored
from wickwatch.web.context import Context

#: Numerical libraries take no more than the one core on which it stands back behind everything else.
_ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")


def start(web: Context, trial_id: UUID) -> None:
    """Start it; returns at once. Should it fail, the order says so."""
    child = subprocess.Popen(
        [sys.executable, "-m", "wickwatch.watch.rule_trial", str(trial_id)],
        stdin=subprocess.PIPE,
        process_group=0,
        env=os.environ | _ONE_THREAD,
    )
    threading.Thread(target=_see_to, args=(web, trial_id, child), name="rule-trial", daemon=True).start()


def _see_to(web: Context, trial_id: UUID, child: subprocess.Popen[bytes]) -> None:
    child.communicate(web.settings.database_url.encode() + b"\n")
    if child.returncode == 0:
        return
    log.warning("rule_trial.failed", trial=trial_id, code=child.returncode)
    try:
        with web.connection() as conn:
            stored.give_up(conn, trial_id, "it failed; why is in the log", datetime.now(UTC))
    except (psycopg.Error, PoolTimeout) as error:
        log.warning("rule_trial.not_told", trial=trial_id, why=type(error).__name__)
