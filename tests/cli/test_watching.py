"""Watching a season's folder."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

from certgen.cli.progress import follow_changes, take_fingerprint

COVERS = ("certgen.cli.progress",)

RECORDS = """\
season:
  operation: {name: Hollow Lane}
  label: '2026'
  from: 2026-01-01
  to: 2026-12-31
  crop: papaya
  standards: [us-nop]
"""


def write(folder: Path, text: str, age: int) -> None:
    """Writes the record file and sets its time of change, so that no two writes share one."""
    (folder / "season.yaml").write_text(text, encoding="utf-8")
    os.utime(folder / "season.yaml", (age, age))


def test_a_change_is_seen_once_it_has_come_to_rest(tmp_path: Path) -> None:
    """While a file changes between two looks nothing is given; when it rests it is given once."""
    write(tmp_path, RECORDS, 1)
    steps = iter([2, 3, None, None, "stop"])

    def wait(_: float) -> None:
        step = next(steps)
        if step == "stop":
            raise KeyboardInterrupt
        if step is not None:
            write(tmp_path, RECORDS + "#" * int(step), int(step))

    seen = [found[0][1] for found in follow_changes(tmp_path, wait)]

    assert [len(RECORDS), len(RECORDS) + 3] == seen


def test_the_fingerprint_knows_evidence_by_name(tmp_path: Path) -> None:
    """A letter put into evidence/ is a change too: a gap may rest on its absence."""
    write(tmp_path, RECORDS, 1)
    before = take_fingerprint(tmp_path)
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence" / "letter.txt").write_text("negative", encoding="utf-8")

    assert before != take_fingerprint(tmp_path)


def test_check_looks_again_when_a_file_changes(tmp_path: Path) -> None:
    """`check --watch` reports, waits, and reports again after an edit."""
    write(tmp_path, RECORDS, 1)
    command = [sys.executable, "-m", "certgen", "check", str(tmp_path), "--watch", "--no-cache"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, encoding="utf-8") as watching:
        assert watching.stdout is not None
        first = read_until(watching.stdout, "Ctrl-C ends it.")
        write(tmp_path, RECORDS.replace("Hollow Lane", "Fallow Lane"), int(time.time()))
        second = read_until(watching.stdout, "Ctrl-C ends it.")
        watching.kill()

    assert "Hollow Lane" in first
    assert "Fallow Lane" in second


def read_until(stream: object, end: str) -> str:
    """Lines up to the one that holds `end`."""
    lines = []
    for line in stream:  # type: ignore[attr-defined]
        lines.append(line)
        if end in line:
            break
    return "".join(lines)
