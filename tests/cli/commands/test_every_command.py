"""Every command works over whatever part of a season's records is there: January has trees and no bags."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import seasons as built

from certgen.cli import COMMANDS, run
from certgen.examination import examine

if TYPE_CHECKING:
    from certgen.examination import Result

COVERS = (
    "certgen.cli.commands.due",
    "certgen.cli.commands.export",
    "certgen.cli.commands.labels",
    "certgen.cli.commands.plan",
    "certgen.cli.commands.recall",
    "certgen.cli.commands.report",
    "certgen.cli.commands.sample",
    "certgen.cli.commands.trace",
    "certgen.dossier.spot_check",
)
WHOLE = {**built.one_line(), "movements": [built.sale("M1", "L1", 4)]}
TABLES = tuple(WHOLE)
#: The tables in the order in which a season fills them, and the whole without each of them.
PARTS = {
    **{f"up to {name}": TABLES[: at + 1] for at, name in enumerate(TABLES)},
    **{f"without {name}": tuple(one for one in TABLES if one != name) for name in TABLES[:-1]},
    "nothing": (),
}
#: How each command that reads a season is called; {out} is a folder to write to.
CALLS = (
    "check {season}",
    "check {season} --format json",
    "due {season}",
    "balance {season}",
    "card {season} L1 --out {out}/card.pdf",
    "trace {season} T1",
    "trace {season} L1 --format json",
    "recall {season} L1",
    "recall {season} T1 --out {out}/notices.pdf",
    "sample {season} --of bags --seed x --size 1",
    "sample {season} --of trees --seed x --size 1",
    "sample {season} --of seed --lot L1 --detect 1%",
    "plan {season} --of bags --grams 250",
    "plan {season} --of pools --price gus=4",
    "plan {season} --of parents --effective 20",
    "plan {season} --of seed --detect 1%",
    "plan {season} --of pollen --format json",
    "labels {season} --kind tags --out {out}/tags.pdf",
    "labels {season} --kind tags --first N-1 --desk http://192.168.1.20:8017 --out {out}/numbered.pdf",
    "labels {season} --kind lots --out {out}/lots.pdf",
    "labels {season} --kind bagging-round --out {out}/round.pdf",
    "labels {season} --kind sample-round --out {out}/samples.pdf",
    "visit {season} --out {out}/visit.pdf",
    "evidence {season}",
    "history {season}",
    "undo {season}",
    "export {season} --format json --out {out}/season.json",
    "export {season} --format epcis --out {out}/epcis.json",
)
#: Seasons whose packet is set as well, which takes a second or two.
PRINTED = ("nothing", "up to trees", "without bagging")


def write(folder: Path, part: str) -> Path:
    """Writes a part of the season; gives its folder."""
    folder.mkdir()
    built.write_season(folder, **{name: WHOLE[name] for name in PARTS[part]})
    return folder


def call(line: str, season: Path, out: Path) -> int:
    """Runs a command of `CALLS`."""
    out.mkdir(exist_ok=True)
    day = [] if line.partition(" ")[0] in {"evidence", "history", "undo"} else ["--on", "2026-11-25"]
    return run([*(word.format(season=season, out=out) for word in line.split()), *day])


@pytest.fixture(autouse=True)
def _examined_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing changes between one command and the next."""
    known: dict[tuple[Path, date], Result] = {}

    def examine_once(folder: Path, on: date, **given: object) -> Result:
        if (folder, on) not in known:
            known[folder, on] = examine(folder, on, **given)  # type: ignore[arg-type]
        return known[folder, on]

    monkeypatch.setattr("certgen.examination.examine", examine_once)


@pytest.mark.parametrize("part", PARTS)
def test_every_command_ends_in_words_over_any_part_of_a_season(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], part: str
) -> None:
    """Exit code 0, 1 or 2, and what is refused is refused in words."""
    season = write(tmp_path / "season", part)
    for line in CALLS:
        code = call(line, season, tmp_path / "out")
        printed = capsys.readouterr()
        assert code in {0, 1, 2}, (line, printed.err)
        assert "Traceback" not in printed.err
        assert code != 2 or printed.err, line


@pytest.mark.parametrize("part", PRINTED)
def test_a_packet_is_printed_of_any_part_of_a_season(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], part: str
) -> None:
    """What isn't there yet is missing from it, and that is all."""
    season = write(tmp_path / "season", part)
    line = "report {season} --out {out}/packet.pdf --html {out}/binder.html"
    assert call(line, season, tmp_path / "out") in {0, 1}, capsys.readouterr().err
    assert {"packet.pdf", "binder.html"} == {path.name for path in (tmp_path / "out").iterdir()}


@pytest.mark.parametrize(
    ("part", "says"),
    [
        ("nothing", "There are no records yet, so nothing is shown: begin with the land"),
        ("up to screening", "There is no lot yet, so nothing is claimed"),
        ("without lots", ""),
    ],
)
def test_a_season_that_claims_nothing_does_not_pass(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], part: str, says: str
) -> None:
    """Who leaves the lots out would else pass where a word about them would fail."""
    season = write(tmp_path / "season", part)
    assert call("check {season}", season, tmp_path / "out") == 1
    assert says in capsys.readouterr().out


def test_the_walk_calls_every_command_that_reads_a_season() -> None:
    """A command that comes later must be walked too."""
    others = {"new", "import", "seal", "verify", "coop", "rules", "completion", "desk"}
    assert set(COMMANDS) - others == {line.split()[0] for line in CALLS} | {"report"}
