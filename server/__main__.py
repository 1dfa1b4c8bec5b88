"""`python -m server` is the same as `midlimit`."""

import sys

from server.cli import main

sys.exit(main())
