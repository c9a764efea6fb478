"""Lets the tests of truth share their generator: a folder of tests is no package."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
