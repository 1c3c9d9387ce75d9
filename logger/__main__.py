"""Entry point of the command ``evenrun``."""

from __future__ import annotations

import sys

from logger.cli import main

if __name__ == "__main__":
    sys.exit(main())
