"""How much a season folder may hold before reading stops.

A folder can come from a stranger (a co-op's member, an attachment). These bounds lie far above any
real season and well below what would fill a small machine's memory or its user's patience.
"""

from __future__ import annotations

FILE_BYTES = 64 * 1024 * 1024
LINE_CHARACTERS = 2_000_000
SEASON_BYTES = 512 * 1024 * 1024
FOLDER_ENTRIES = 50_000
#: Records of one table in one file whose faults are put into words; more are counted.
RECORDS_EXPLAINED = 1_000
#: Faults put into words for one record.
MISTAKES_A_RECORD = 40
#: Faults in one record, or among a file's tables, at which the file is given up: nobody typed that.
MISTAKES_TO_STOP = 10_000
#: Longer than any record with a note as long as a book.
RECORD_CHARACTERS = 4_000_000
EARLIER_SEASONS = 12
#: The folder of parsed files: bytes that it may hold in all.
CACHE_BYTES = 256 * 1024 * 1024
#: Records that one file may hold of one table, and entries of one list inside a record.
RECORDS_A_LIST = 500_000
ENTRIES_A_FIELD = 100_000
