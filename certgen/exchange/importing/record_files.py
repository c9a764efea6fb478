"""A file of records that are written as the season's own are, in YAML: a visit's marks, a filled-in form.

It is read by the reader that reads every season, so what it refuses is told at its line and column.
"""

from __future__ import annotations

import errno
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.editing.yaml_text import Line, render_fields, with_days
from certgen.exchange.importing.archives import FILE_BYTES
from certgen.exchange.importing.assembly import Gathered, Incoming
from certgen.exchange.importing.trial import ImportRefusedError
from certgen.exchange.spreadsheets.rows import records_of
from certgen.records.tables import load_tables
from certgen.standards.season_reading import read_case
from certgen.whole_files import read_ordinary

if TYPE_CHECKING:
    from certgen.records import Season

#: How such a file's name ends.
ENDINGS: Final = frozenset({".yaml", ".yml"})
#: What stands beside it while it is read: the season's own mapping, under a name that nobody gives a file.
_SEASON: Final = "the-season-itself.yaml"


def read_record_file(path: Path, season: Season | None) -> Gathered:
    """The records of a file, for a season that is there already.

    Raises `ImportRefusedError` for a file that can't be read or holds anything unsound; its errors name lines
    and columns.
    """
    if season is None:
        raise ImportRefusedError("there is no season to take records; lay one out with: certgen new")
    details = {name: value for name, value in season.details.raw.items() if name != "previous"}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        lines = [Line("season:", ()), *render_fields(with_days(details), 2)]
        (folder / _SEASON).write_text("".join(f"{line.text}\n" for line in lines), encoding="utf-8")
        (folder / f"{path.stem or 'records'}.yaml").write_bytes(_read(path))
        alone, errors = read_case(folder)
    if alone is None or errors:
        raise ImportRefusedError(f"{path.name} holds what no record can; mend it first, then import", errors)
    gathered = Gathered()
    for table in load_tables():
        places = alone.tables[table]["at"].tolist()
        for at, record in zip(places, records_of(alone, table), strict=True):
            home = f"{table}, record {int(at) + 1}"
            gathered.records.append(
                Incoming(table, _plain(record), path.name, home, covers=frozenset(record))
            )
    if not gathered.records:
        raise ImportRefusedError(f"{path.name} holds no records")
    return gathered


def _read(path: Path) -> bytes:
    try:
        return read_ordinary(path, FILE_BYTES)
    except OSError as fault:
        if fault.errno == errno.EFBIG:
            raise ImportRefusedError(
                f"{path.name}: larger than {FILE_BYTES // 2**20} MB; split it"
            ) from fault
        raise ImportRefusedError(f"{path}: cannot be read ({fault.strerror})") from fault


def _plain(value: Any) -> Any:
    """Mappings and lists as they are written anew."""
    if isinstance(value, Mapping):
        return {name: _plain(part) for name, part in value.items()}
    return [_plain(part) for part in value] if isinstance(value, tuple) else value
