"""`python -m wickwatch_simulator` is the command `wickwatch-simulator`."""

import sys

from wickwatch_simulator.cli import main

sys.exit(main())
