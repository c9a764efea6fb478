"""What a supplier's packet shows, once somebody has verified it: its lots, what left to whom, who signed it.

To verify a packet is to make its pages anew, which happens far above the records. So a reader of packets is
handed in from there; without one no packet proves anything.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Final, NamedTuple, Protocol

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from certgen.records.joining.farm import Farm
    from certgen.records.season import Season

#: Packets may rest on packets, so many deep and no further.
DEEPEST: Final = 5
#: So much evidence is put inside a report, in the order of the files; the rest nobody can look at there.
ATTACHED_BYTES: Final = 64 * 1024 * 1024
_GROUP: Final = 4
_GROUPS: Final = 8


@dataclass(frozen=True, slots=True)
class Signer:
    """Whose signature a packet bears: the SHA-256 of the certificate's public key in 64 hexadecimal digits,
    the name that the certificate claims, and whether the signature holds."""

    key: str
    name: str = ""
    holds: bool = False


@dataclass(frozen=True, slots=True)
class Treatment:
    """Whether a lot's seed is `treated` against disease or pests (None: no record says), with which
    `substances` as written, `named` whether every treatment says with what, and whether one of them is
    `harmful` (False only when that is said of each; None: not said).
    """

    treated: bool | None = None
    substances: tuple[str, ...] = ()
    named: bool = True
    harmful: bool | None = None


@dataclass(frozen=True, slots=True)
class SuppliedLot:
    """A lot as the supplier's own records show it. Masses in milligrams."""

    variety: str
    status: str
    standing: str
    weight_mg: int
    traced_mg: int
    treatment: Treatment = Treatment()


@dataclass(frozen=True, slots=True)
class Dispatch:
    """Seed that left the supplier, less what came back of it. `weight_mg` in milligrams."""

    lot: str
    party: str
    date: date
    weight_mg: int
    document: str = ""


@dataclass(frozen=True, slots=True)
class Party:
    """An operation as a packet names it."""

    name: str
    certificate: str = ""


@dataclass(frozen=True, slots=True)
class SuppliedPacket:
    """A packet that was verified, and what follows from the records inside it.

    `faults` say in plain words why it proves nothing; they are empty where every byte was made anew and was
    the same. `on` is the day it speaks of. `behind` are the operations whose packets it rests on, at every
    depth, and `depth` is one more than that of the deepest of those, 1 where there is none. `replaces` is
    the fingerprint of the packet that it takes the place of.
    """

    operation: Party
    crop: str = ""
    season: str = ""
    on: date | None = None
    fingerprint: str = ""
    signers: tuple[Signer, ...] = ()
    lots: Mapping[str, SuppliedLot] = field(default_factory=dict)
    dispatches: tuple[Dispatch, ...] = ()
    behind: tuple[Party, ...] = ()
    depth: int = 1
    replaces: str = ""
    faults: tuple[str, ...] = ()


_TOO_LARGE: Final = SuppliedPacket(
    Party(""), faults=("it is too large to be put inside a report, so whoever reads that can't verify it",)
)


class PacketReader(Protocol):
    """Who verifies packets."""

    def __call__(self, path: Path) -> SuppliedPacket:
        """The packet in a file. Whatever the file holds is an answer; nothing is raised for it."""

    def replaced_by(self, path: Path) -> str:
        """The fingerprint of the packet that a file says it replaces, unverified; empty if it says none."""


@dataclass(frozen=True, slots=True)
class Supplied:
    """The packets that records name, by file as the farm's records call it.

    `replaced` holds by fingerprint the file that says it takes that packet's place.
    """

    packets: Mapping[str, SuppliedPacket] = field(default_factory=dict)
    replaced: Mapping[str, str] = field(default_factory=dict)


#: Where nobody verifies, no packet proves anything.
NO_PACKETS: Final = Supplied()


class NamedPacket(NamedTuple):
    """A packet's file where a record names it: table, identifier, row, and the steps to the field."""

    table: str
    id: str
    row: int
    steps: tuple[str | int, ...]
    file: str


def list_packets(season: Season) -> Iterator[NamedPacket]:
    """Every place at which a lot's source or a planting's origin names a supplier's packet."""
    plantings = season.columns("plantings")
    named = plantings.known("origin.packet")
    for row, planting, file in plantings.rows("planting", "origin.packet", where=named):
        yield NamedPacket("plantings", str(planting), row, ("origin", "packet"), file)
    sources = season.elements("lots", "sources")
    for _, row, position, lot, part in sources.rows("row", "position", "id", "value"):
        if part.get("packet") is not None:
            yield NamedPacket("lots", str(lot), row, ("sources", position, "packet"), str(part["packet"]))


def read_packets(season: Farm, reader: PacketReader | None) -> Supplied:
    """Has each packet that a record names verified, once. Without a reader none is.

    A packet that our own report has no room for is not looked at: whoever has the report alone must come to
    the same answer.
    """
    files = dict.fromkeys(named.file for named in list_packets(season)) if reader is not None else {}
    there = set(season.evidence_files) - set(season.empty_evidence)
    named = [file for file in files if file in there]
    if reader is None or not named:
        return NO_PACKETS
    evidence = season.folder / "evidence"
    inside = _list_attached(season)
    packets = {file: reader(evidence / file) if file in inside else _TOO_LARGE for file in named}
    replaced = {}
    for file in inside:
        # A packet that took another's place needs no record that names it, and no proof: it is enough to ask.
        if file.lower().endswith(".pdf") and (other := reader.replaced_by(evidence / file)):
            replaced[other] = file
    return Supplied(packets, replaced)


def _list_attached(season: Farm) -> dict[str, None]:
    """The evidence that a report of the season has room for."""
    room = ATTACHED_BYTES
    found: dict[str, None] = {}
    for file in season.evidence_files:
        with suppress(OSError):
            size = (season.folder / "evidence" / file).stat().st_size
            if size <= room:
                found[file] = None
                room -= size
    return found


def fingerprint_of(key: str) -> str:
    """A key as people compare it: 32 digits in eight groups of four.

    `key` is the key's SHA-256 in 64 hexadecimal digits, or that fingerprint already, in any letter case.
    """
    digits = "".join(key.split()).lower()
    return " ".join(digits[at : at + _GROUP] for at in range(0, _GROUP * _GROUPS, _GROUP))
