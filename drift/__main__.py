"""Lets ``python -m drift`` do what the command ``drift`` does."""

import sys

from drift.cli import main

sys.exit(main())
