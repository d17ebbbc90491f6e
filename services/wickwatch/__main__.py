"""`python -m wickwatch`, the same as the console command."""

import sys

from wickwatch.cli import main

if __name__ == "__main__":
    sys.exit(main())
