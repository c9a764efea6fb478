"""The files of a co-op's own control: read strictly, and what in them counts on a day."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from certgen.coop.members.control import Certificate, Control, Sanction
from certgen.coop.members.member_list import Coop, read_coop

COVERS = ("certgen.coop.members.control_reading", "certgen.coop.members.form_reading")
LIST = """\
coop:
  name: Two Gates
  control: [control.yaml]
members:
  - {member: A, name: Farm A, folder: a, certificate: "1", joined: 2020-01-01}
  - {member: B, name: Farm B, folder: b, certificate: "2", joined: 2021-01-01}
"""
GOOD = """\
agreements:
  - {member: A, signed: 2020-01-01, signed_by: R. Alder, paper: a.txt}
inspections:
  - inspection: I-1
    member: A
    date: 2026-05-01
    by: K. Nettle
    blocks: [East]
    findings:
      - {finding: no log, deadline: 2026-06-01}
requests:
  - {request: R-1, member: B, asked: 2026-09-01, what: a letter, deadline: 2026-09-30}
"""
AGAIN = "  - {request: r-1, member: A, asked: 2026-09-01, what: x, deadline: 2026-09-30}\n"


def write(folder: Path, control: str = GOOD, text: str = LIST) -> Path:
    """A co-op's folder with these two files."""
    (folder / "coop.yaml").write_text(text, encoding="utf-8")
    (folder / "control.yaml").write_text(control, encoding="utf-8")
    return folder


def read(folder: Path) -> Coop:
    """The co-op, which has to be without fault."""
    coop, errors = read_coop(folder)
    assert () == errors
    assert coop is not None
    return coop


def test_what_the_control_wrote_is_read_beside_the_list(tmp_path: Path) -> None:
    """Entries with their days; a co-op that names no file keeps none."""
    coop = read(write(tmp_path))
    assert coop.control is not None
    assert coop.has_control
    (inspection,) = coop.control.inspections
    assert ("I-1", "A", date(2026, 5, 1), ("East",)) == (
        inspection.inspection, inspection.member, inspection.date, inspection.blocks,
    )  # fmt: skip
    assert date(2026, 6, 1) == inspection.findings[0].deadline
    without = read(write(tmp_path, text=LIST.replace("  control: [control.yaml]\n", "")))
    assert (None, False) == (without.control, without.has_control)


def test_several_files_are_one_control(tmp_path: Path) -> None:
    """A co-op may keep its requests apart from its inspections."""
    head, _, tail = GOOD.partition("requests:")
    write(tmp_path, head, LIST.replace("[control.yaml]", "[control.yaml, asked/2026.yaml]"))
    (tmp_path / "asked").mkdir()
    (tmp_path / "asked" / "2026.yaml").write_text(f"requests:{tail}")
    control = read(tmp_path).control
    assert control is not None
    assert (1, 1, 1) == (len(control.agreements), len(control.inspections), len(control.requests))


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("member: B", "member: C", (12, 28), "no member 'C'"),
        ("signed: 2020", "signed: 20", (2, 25), "write a day"),
        ("signed_by: R. Alder, ", "", (2, 5), "`signed_by` is missing"),
        ("deadline: 2026-06-01", "deadline: 2026-04-30", (10, 37), "before the inspection of 1 May 2026"),
        ("deadline: 2026-09-30", "deadline: 2026-08-30", (12, 76), "lies before `asked`"),
        ("blocks: [East]", "block: [East]", (8, 5), "did you mean `blocks`"),
        ("requests:", "request:", (11, 1), "did you mean `requests`"),
        ("requests:\n", f"requests:\n{AGAIN}", (13, 15), "stands already"),
        ("R. Alder", '"R.\\x00 Alder"', None, "control character"),
        (GOOD, "- 1\n", (1, 1), "needs at least one of the lists"),
    ],
)  # fmt: skip
def test_a_faulty_entry_is_named_with_its_place(
    tmp_path: Path, old: str, new: str, place: tuple[int, int] | None, words: str
) -> None:
    """One edit, one objection where it stands; then nothing is examined."""
    assert old in GOOD
    coop, errors = read_coop(write(tmp_path, GOOD.replace(old, new)))
    assert coop is None
    assert [("control.yaml", True)] == [(one.file, words in one.message) for one in errors], errors
    assert place in {None, (errors[0].line, errors[0].column)}


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("../control.yaml", "points outside the folder"),
        ("a/control.yaml", "where A hands its records in"),
        ("coop.yaml", "the list of members itself"),
        ("control.yaml, control.yaml", "name each file once"),
        ("elsewhere.yaml", "isn't there"),
    ],
)
def test_the_co_ops_own_files_lie_where_no_member_writes(tmp_path: Path, file: str, words: str) -> None:
    """A member can't hand in what the office wrote of it."""
    write(tmp_path, text=LIST.replace("[control.yaml]", f"[{file}]"))
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "control.yaml").write_text(GOOD)
    coop, errors = read_coop(tmp_path)
    assert coop is None
    assert [True] == [words in one.message for one in errors], errors


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("member: A,", "member: GROUP,", "means the group itself"),
        ("folder: a,", "folder: evidence/a,", "holds the co-op's own papers"),
    ],
)
def test_no_member_passes_for_the_co_op(tmp_path: Path, old: str, new: str, words: str) -> None:
    """Neither by its key nor by where its records lie."""
    coop, errors = read_coop(write(tmp_path, text=LIST.replace(old, new)))
    assert coop is None
    assert words in errors[0].message


def test_only_a_paper_that_is_there_is_filed(tmp_path: Path) -> None:
    """An empty file, a folder, a link that leads out and a path that leaves the evidence are none."""
    names = ("a.txt", "empty.txt", "folder", "out.txt", "../control.yaml", "missing.txt", "/etc/hostname")
    entries = "".join(
        f"  - {{member: A, signed: 2020-01-01, signed_by: x, paper: {name}}}\n" for name in names
    )
    write(tmp_path, f"agreements:\n{entries}")
    evidence = tmp_path / "evidence"
    (evidence / "folder").mkdir(parents=True)
    (evidence / "a.txt").write_text("signed")
    (evidence / "empty.txt").touch()
    (evidence / "out.txt").symlink_to("/etc/hostname")
    control = read(tmp_path).control
    assert control is not None
    assert ("a.txt",) == control.filed
    assert control.is_shown("a.txt")


@pytest.mark.parametrize(
    ("on", "refused"),
    [
        (date(2025, 12, 31), "no certificate on the co-op's list was valid then"),
        (date(2026, 1, 1), ""),
        (date(2026, 6, 30), ""),
        (date(2026, 7, 1), "certificate 1 was suspended then"),
        (date(2026, 8, 31), "certificate 1 was suspended then"),
        (date(2026, 9, 1), ""),
        (date(2026, 12, 31), ""),
        (date(2027, 1, 1), "no certificate on the co-op's list was valid then"),
    ],
)
def test_a_certificate_holds_from_its_first_to_its_last_day(on: date, refused: str) -> None:
    """Both days count; what speaks against it in between outweighs it."""
    control = Control(
        certificates=(
            Certificate("A", "1", "valid", date(2026, 1, 1), date(2026, 12, 31), paper="c.txt"),
            Certificate("A", "1", "suspended", date(2026, 7, 1), date(2026, 8, 31)),
        ),
        filed=("c.txt",),
    )
    assert refused == control.refuse_certificate("A", on)
    assert "" == control.refuse_certificate("B", on)


def test_a_certificate_without_its_paper_is_not_valid() -> None:
    """The office's own word shows nothing."""
    written = Certificate("group", "1", "valid", date(2026, 1, 1))
    assert "of certificate 1 no paper is named" == Control(certificates=(written,)).refuse_certificate(
        "A", date(2026, 5, 1)
    )


@pytest.mark.parametrize(
    ("lifted", "paper", "filed", "on", "expected"),
    [
        (None, "", (), date(2027, 1, 1), False),
        (date(2026, 9, 1), "", (), date(2026, 9, 2), False),
        (date(2026, 9, 1), "l.txt", (), date(2026, 9, 2), False),
        (date(2026, 9, 1), "l.txt", ("l.txt",), date(2026, 9, 1), False),
        (date(2026, 9, 1), "l.txt", ("l.txt",), date(2026, 9, 2), True),
    ],
)
def test_a_sanction_ends_only_by_the_paper_that_lifts_it(
    lifted: date | None, paper: str, filed: tuple[str, ...], on: date, expected: bool
) -> None:
    """Not on the day itself, and not by a day that was set for it to end."""
    one = Sanction("S-1", "A", "suspended", date(2026, 8, 1), "why", until=date(2026, 8, 31), lifted=lifted,
                   lifted_with=paper)  # fmt: skip
    assert expected == Control(sanctions=(one,), filed=filed).is_lifted(one, on)
