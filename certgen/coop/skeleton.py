"""A co-op's folder to fill in: the list of members, its own control, a place for each member's records.

All explanations come from the schemas, as with a season's files. What is laid out is sound as it stands: what
isn't known yet is a comment, for a name or day that nobody gave would be made up.
"""

from __future__ import annotations

import shlex
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.coop.members.member_list import FILE, SOURCES
from certgen.exchange.editing.skeleton import write_comment, write_example
from certgen.exchange.editing.yaml_text import render_fields, render_record
from certgen.output_places.places import Output, write_outputs
from certgen.records.record_files.files import EVIDENCE
from certgen.records.tables import Field, load_form
from certgen.standards import load_rulebook
from certgen.whole_files import name_type

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date
    from pathlib import Path

CONTROL: Final = "control.yaml"
_README: Final = "README.txt"
_PLACES: Final = {"folder": "members/{}", "archive": "members/{}.zip", "workbook": "members/{}.xlsx"}
#: What the office says it with.
HANDED: Final = {"folder": "a folder", "archive": "a zip", "workbook": "a workbook"}
_CONTROL_OFF: Final = (
    "Take the sign # away from `control:` above once control.yaml holds its first entries. From then on what "
    "stands in none of them counts as not made: a member without an agreement there has signed none."
)
_STEPS: Final = """
coop.yaml lists the members. Each hands its records in as a folder, a zip or a workbook; put them where
coop.yaml says.

A member that begins a season lays its folder out with: certgen new 2027 --operation "ITS NAME". One that
works in a spreadsheet gets a workbook: certgen export 2027 --empty --out season.xlsx.

control.yaml is the co-op's own: agreements, certificates, inspections, sanctions, requests; their papers
lie in evidence/. Name it in coop.yaml once it holds its first entries.

To see where everybody stands, and to write each member what to send:
certgen coop {folder} --letters letters --out coop.pdf
"""


@dataclass(frozen=True, slots=True)
class NewMember:
    """A member as the office knows it: how it hands its records in is one of `SOURCES`."""

    key: str
    name: str
    certificate: str
    joined: date
    source: str = "folder"

    @property
    def path(self) -> str:
        """Where its records are put, below the co-op's folder."""
        return _PLACES[self.source].format(self.key.casefold())


@dataclass(frozen=True, slots=True)
class CoopBeginning:
    """What a new co-op's folder needs to know."""

    name: str
    certifier: str = ""
    office: str = ""
    standards: tuple[str, ...] = ()
    answer_days: int | None = None
    members: tuple[NewMember, ...] = ()


def check_coop(beginning: CoopBeginning) -> None:
    """Raise `ValueError` in words that say what to write instead."""
    if not beginning.name.strip():
        raise ValueError("the co-op needs a name")
    for key in beginning.standards:
        load_rulebook(key)
    if beginning.answer_days is not None and beginning.answer_days < 1:
        raise ValueError("members need a day at least to answer a letter")
    known: set[str] = set()
    for member in beginning.members:
        _check_member(member)
        if member.key.casefold() in known:
            raise ValueError(f"two members have the key {member.key}; give each its own")
        known.add(member.key.casefold())


def _check_member(member: NewMember) -> None:
    key = member.key
    if not key.strip() or not key.isprintable() or any(sign in key for sign in "/\\:") or key[0] in ". ":
        raise ValueError(f"'{key}' is no key: write a short name without strokes, colons or a dot in front")
    if key.casefold() == "group":
        raise ValueError("'group' means the co-op itself; give the member another key")
    if not member.name.strip() or not member.certificate.strip():
        raise ValueError(f"member {key} needs a name and the number of its certificate")
    if member.source not in SOURCES:
        raise ValueError(f"member {key} hands in as {' or '.join(SOURCES)}, not as '{member.source}'")


def lay_out_coop(folder: Path, beginning: CoopBeginning) -> list[str]:
    """Write the co-op's files, all or none, and make the members' folders; returns the files' names.

    Raises `ValueError` for what can't be written, and `FileExistsError` where the folder holds anything.
    """
    check_coop(beginning)
    hold_coop_folder(folder)
    readme = "\n".join(_readme_lines(folder, beginning)) + "\n"
    contents = {FILE: _coop_text(beginning), CONTROL: _control_text(), _README: readme}
    files = [Output(folder / name, "season file", text.encode()) for name, text in contents.items()]
    write_outputs(files, force=False)
    for member in beginning.members:
        if member.source == "folder":
            (folder / member.path).mkdir(parents=True, exist_ok=True)
    (folder / "members").mkdir(exist_ok=True)
    (folder / EVIDENCE).mkdir(exist_ok=True)
    return list(contents)


def hold_coop_folder(folder: Path) -> None:
    """Refuse what is no folder, or one that holds anything but hidden files. Raises `FileExistsError`."""
    if folder.exists() and not folder.is_dir():
        raise FileExistsError(f"{folder} is {name_type(folder.stat().st_mode)}; name a folder to make")
    if folder.is_dir() and (held := [path.name for path in folder.iterdir() if path.name[0] != "."]):
        raise FileExistsError(f"{folder} holds {held[0]} already; name a folder that isn't there yet")


# The files


def _coop_text(beginning: CoopBeginning) -> str:
    form = load_form("coop").fields
    told: dict[str, Any] = {
        "name": beginning.name.strip(), "certifier": beginning.certifier, "office": beginning.office,
        "answer_days": beginning.answer_days, "standards": list(beginning.standards),
    }  # fmt: skip
    coop = {name: value for name, value in told.items() if value}
    lines = [*write_comment(form["coop"].description, 0), "#", *_explain(form["coop"].fields), "coop:"]
    lines += [line.text for line in render_fields(coop, 2)]
    lines += [f"  # control: [{CONTROL}]", *write_comment(_CONTROL_OFF, 2), ""]
    item = form["members"].item
    if item is None:
        raise ValueError("the schema of coop.yaml tells of no members")
    lines += [*write_comment(form["members"].description, 0), "#", *_explain(item.fields)]
    lines += [
        "# How a member hands in is said by one of `folder`, `archive` and `workbook`. One looks like this:",
        *_show_member(),
    ]
    if not beginning.members:
        return "\n".join([*lines, "# Take the [] away with the first member.", "members: []"]) + "\n"
    lines.append("members:")
    for member in beginning.members:
        record = {
            "member": member.key, "name": member.name.strip(), member.source: member.path,
            "certificate": member.certificate.strip(), "joined": member.joined,
        }  # fmt: skip
        lines += [line.text for line in render_record(record, 2)]
    return "\n".join(lines) + "\n"


def _show_member() -> list[str]:
    item = load_form("coop").fields["members"].item
    fields = {} if item is None else item.fields
    told = ("member", "name", "archive", "certificate", "joined")
    shown = {name: write_example(fields[name], {}) for name in told}
    return [f"#{line.text}" for line in render_record(shown, 2)]


def _control_text() -> str:
    lines = write_comment(
        "What the co-op's own control writes down. The papers that it names lie in evidence/ beside "
        "coop.yaml. To put a list in force, take the sign # and the blank behind it away from its name and "
        "from a record below it, and write yours.",
        0,
    )
    for name, field in load_form("control").fields.items():
        item = field.item
        lines += ["", *write_comment(f"{field.title}. {field.description}", 0)]
        if item is None:
            continue
        lines += ["#", *_explain(item.fields)]
        shown = {key: write_example(part, {}) for key, part in item.fields.items() if key != "note"}
        lines += [f"# {name}:", *(f"# {line.text}" for line in render_record(shown, 2))]
    return "\n".join(lines) + "\n"


def _explain(fields: Mapping[str, Field]) -> list[str]:
    lines: list[str] = []
    for name, field in fields.items():
        told = f" One of: {', '.join(field.enum)}." if field.enum else ""
        text = f"{name}: {field.description}{told}"
        lines += textwrap.wrap(
            text, 96, initial_indent="#   ", subsequent_indent="#       ", break_on_hyphens=False
        )
    return lines


def _readme_lines(folder: Path, beginning: CoopBeginning) -> Iterator[str]:
    """What the office does with the folder."""
    name = shlex.quote(" ".join(folder.resolve().name.split()))
    yield f"{beginning.name.strip()}: what the office collects from its members"
    yield ""
    for number, step in enumerate(_STEPS.strip().split("\n\n"), 1):
        text = f"{number}. {step.format(folder=name)}"
        yield from textwrap.wrap(text, 96, subsequent_indent="   ", break_on_hyphens=False)
    if beginning.members:
        yield ""
        yield "The members:"
    for member in beginning.members:
        how = f"hands in {HANDED[member.source]}, kept at {member.path}"
        yield f"  {member.key}, {member.name.strip()}: {how}"
