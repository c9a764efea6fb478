"""Writes a season of a shape."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from bench.shapes import write_shape

sys.stdout.write(f"{write_shape(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]))} bytes\n")
