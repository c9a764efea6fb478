"""Suppliers' packets that a season's records name, verified when the season is examined.

A packet that counts is made anew to the last byte, which takes seconds; so what it shows is kept among the
user's caches, under its bytes and the code that verified it. Packets rest on packets: those inside one are
verified in their turn out of the bytes that it holds, down to a depth that is a matter of the file and not of
who asks.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from contextvars import ContextVar
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any, Final

from certgen.disk_cache import DiskCache
from certgen.limits import Limits, run_limited
from certgen.manifest import write_fingerprint
from certgen.records.rows import is_absent, plain_value
from certgen.records.supplied import DEEPEST, Dispatch, Party, Signer, SuppliedLot, SuppliedPacket
from certgen.resources import code_digest
from certgen.typeset.pango import PangoMissingError, hold_pango
from certgen.verification.attachments import PacketError, read_attachments, read_packet
from certgen.verification.packet_files import stated_options

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from certgen.examination import Result
    from certgen.lineage import Node
    from certgen.rules.case import Case

#: What one supplier's packet may take, with all that it rests on.
LIMITS: Final = Limits(seconds=600, megabytes=3072)
#: More packets inside one another than anybody follows.
_MOST: Final = 32
_ENTRY_BYTES: Final = 16 * 1024 * 1024
_CACHE_BYTES: Final = 256 * 1024 * 1024
_SOLD: Final = frozenset({"sold", "transferred"})


class PacketVerifier:
    """Verifies suppliers' packets, each of them once. See `records.supplied.PacketReader`.

    `cache` is a folder for what packets showed before, None for none. With `limits` each is verified in a
    process of its own under them; leave them out where that has been seen to.
    """

    def __init__(self, cache: Path | None = None, limits: Limits | None = None) -> None:
        self._cache = DiskCache(
            cache, ".packet", SuppliedPacket, most_bytes=_CACHE_BYTES, entry_bytes=_ENTRY_BYTES
        )
        self._limits = limits
        self._known: dict[str, SuppliedPacket] = {}

    def __call__(self, path: Path) -> SuppliedPacket:
        """What the packet in a file shows, or why it shows nothing."""
        try:
            pdf = read_packet(path)
        except PacketError as fault:
            # The path is this machine's; whoever verifies our own packet has another.
            return _refuse(str(fault).replace(f"{path}: ", ""))
        sha256 = hashlib.sha256(pdf).hexdigest()
        if sha256 not in self._known:
            self._known[sha256] = self._find(pdf, sha256)
        return self._known[sha256]

    def replaced_by(self, path: Path) -> str:
        """The fingerprint of the packet that a file says it replaces."""
        try:
            manifest, _ = _open(read_packet(path))
        except PacketError:
            return ""
        return write_fingerprint(manifest["replaces"]) if manifest["replaces"] else ""

    def _find(self, pdf: bytes, sha256: str) -> SuppliedPacket:
        try:
            key = (sha256, code_digest(), _name_engines())
        except PangoMissingError:
            return _refuse("nothing here can make its pages anew: this system lacks Pango")
        kept = self._cache.load(*key)
        if kept is not None:
            return kept
        if self._limits is None:
            token = _reading.set(_reading.get() or self)
            try:
                found = read_supplied(pdf)
            finally:
                _reading.reset(token)
        else:
            seconds, megabytes = self._limits
            outcome = run_limited(read_supplied, pdf, seconds=seconds, megabytes=megabytes)
            if outcome.passed:
                # Another machine, or another day, may have the time.
                return _refuse(f"verifying it {outcome.reason}")
            found = outcome.value
        self._cache.store(found, *key)
        self._cache.prune()
        return found


def _name_engines() -> str:
    """What the answer depends on besides the file and certgen: what sets pages here, and what reads
    signatures. Raises `PangoMissingError`."""
    from certgen.typeset.engines import list_engines

    hold_pango()
    try:
        signing = version("pyhanko")
    except PackageNotFoundError:
        signing = ""
    return json.dumps({**list_engines(), "pyhanko": signing}, sort_keys=True)


#: Who reads what lies in the packet that is being read: a packet that several rest on is verified once.
_reading: ContextVar[PacketVerifier | None] = ContextVar("reading", default=None)


def reader_inside() -> PacketVerifier:
    """Who verifies the packets that lie in a packet under verification."""
    return _reading.get() or PacketVerifier()


def read_supplied(pdf: bytes) -> SuppliedPacket:
    """Verify a supplier's packet whole, and those that it rests on, and take out what follows from it."""
    from certgen.exchange.signing.signature import read_signatures
    from certgen.verification.verification import verify_bytes

    try:
        depth = _Depths().measure(pdf)
        if depth > DEEPEST:
            return SuppliedPacket(Party(""), depth=depth)
        options = stated_options(_open(pdf)[0])
        if options.withholds:
            return _refuse(
                "it withholds its evidence, and what is withheld shows nothing; ask for a full one"
            )
        if not options.is_full:
            return _refuse(
                "it is about some lots' line alone, and what was left out may speak against them; ask for a"
                " full one"
            )
        signatures = read_signatures(pdf)
        found = verify_bytes(pdf, extract=_take)
    except PacketError as fault:
        return _refuse(str(fault))
    faults = (signatures.unread, *found.faults) if signatures.unread else found.faults
    shown = found.extract if isinstance(found.extract, SuppliedPacket) else SuppliedPacket(Party(""))
    replaces = found.manifest["replaces"]
    return SuppliedPacket(
        operation=shown.operation,
        crop=shown.crop,
        season=shown.season,
        on=dt.date.fromisoformat(found.manifest["on"]),
        fingerprint=found.fingerprint,
        signers=tuple(Signer(one.key, one.signer, one.holds) for one in signatures.signatures),
        lots=shown.lots,
        dispatches=shown.dispatches,
        behind=shown.behind,
        depth=depth,
        replaces=write_fingerprint(replaces) if replaces else "",
        faults=tuple(faults),
    )


def _refuse(fault: str) -> SuppliedPacket:
    return SuppliedPacket(Party(""), faults=(fault,))


def _open(pdf: bytes) -> tuple[Mapping[str, Any], Mapping[str, bytes]]:
    """A packet's manifest and the files inside, as they were before anybody signed. Raises `PacketError`."""
    from certgen.exchange.signing.signature import read_signatures
    from certgen.verification.packet_files import read_manifest

    inside = read_attachments(read_signatures(pdf).base)
    return read_manifest(inside), inside


class _Depths:
    """How deep packets lie in one another, by their bytes; no page is made for it."""

    def __init__(self) -> None:
        self._left = _MOST
        self._known: dict[str, int] = {}

    def measure(self, pdf: bytes, level: int = 1) -> int:
        """1 for a packet that holds no other, one more than the deepest of those that it holds; more than
        `DEEPEST` where that, or their number, is more than anybody follows. Raises `PacketError`."""
        _, inside = _open(pdf)
        deepest = 0
        for name, data in inside.items():
            if "evidence/" in name and name.lower().endswith(".pdf"):
                deepest = max(deepest, self._measure_inner(data, level + 1))
        return min(deepest, DEEPEST) + 1

    def _measure_inner(self, pdf: bytes, level: int) -> int:
        if level > DEEPEST + 1:
            return DEEPEST
        sha256 = hashlib.sha256(pdf).hexdigest()
        if sha256 not in self._known:
            try:
                depth = self.measure(pdf, level)
            except PacketError:
                # A letter, a photo: no packet, and nothing rests on it.
                depth = 0
            self._left -= depth > 0
            self._known[sha256] = depth if self._left >= 0 else DEEPEST
        return self._known[sha256]


def _take(result: Result) -> SuppliedPacket:
    """What a supplier's records show: whose they are, each lot, what left to whom, and whom they rest on."""
    from certgen.dossier.treatment import Treatments

    details, case = result.season.details, result.case
    treatments = Treatments(case)
    statuses = case.keyed("lots")["status"]
    return SuppliedPacket(
        Party(details.operation.name, details.operation.certificate),
        details.crop,
        details.label,
        lots={
            name: SuppliedLot(
                lot.variety, str(plain_value(statuses.get(name)) or ""), lot.standing, int(lot.weight_mg),
                int(lot.traced_mg), treatments.of(name),
            )
            for name, lot in result.lots.items()
        },
        dispatches=tuple(_list_dispatches(case)),
        behind=tuple(dict.fromkeys(_list_behind(case))),
    )  # fmt: skip


def _list_dispatches(case: Case) -> Iterator[Dispatch]:
    """What left, less what came back of it."""
    moves, strange = case.keyed("movements"), case.strange("movements")
    for lot, book in case.books.items():
        for gone in book.departures:
            node: Node = gone.entry.node
            if gone.entry.kind not in _SOLD or strange[moves["row_of"][node.id]]:
                continue
            party, document = (plain_value(moves[name].get(node.id)) for name in ("party", "document"))
            if not is_absent(party):
                told = "" if is_absent(document) else str(document)
                yield Dispatch(lot, str(party), gone.entry.day, int(sum(gone.parts)), told)


def _list_behind(case: Case) -> Iterator[Party]:
    """The operations whose packets show something of this season's seed, and whom those rest on."""
    for one in case.purchases:
        if one.shown and one.packet is not None:
            yield one.packet.operation
            yield from one.packet.behind
