"""How much a season folder may hold before reading stops.

A folder can come from a stranger (a co-op's member, an attachment). These bounds lie far above any
real season and well below what would fill a small machine's memory.
"""

from __future__ import annotations

FILE_BYTES = 64 * 1024 * 1024
LINE_CHARACTERS = 2_000_000
SEASON_BYTES = 512 * 1024 * 1024
FOLDER_ENTRIES = 50_000
ERRORS_A_FILE = 1_000
EARLIER_SEASONS = 12
