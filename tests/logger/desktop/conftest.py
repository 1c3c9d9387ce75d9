"""Every test of the window runs without a screen."""

from __future__ import annotations

import os

os.environ["QT_QPA_PLATFORM"] = "offscreen"
