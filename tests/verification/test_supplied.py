"""Suppliers' packets verified for the season that names them, real ones: made, signed, changed, nested."""

from __future__ import annotations

import hashlib
import shutil
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from printed_packets import blank_pdf, edited, line_packet, manifest_of
from seasons import lot, one_line, write_season
from signed import new_signer

from certgen.coop.members.access import unpack
from certgen.dossier.suppliers import list_through
from certgen.examination import Result, examine
from certgen.exchange.signing.certificates import fingerprint, key_digest
from certgen.exchange.signing.signature import sign_bytes
from certgen.limits import Limits
from certgen.manifest import NAME, build_manifest, manifest_text
from certgen.process_pool import Pool
from certgen.records.supplied import DEEPEST, Dispatch, Party, SuppliedPacket
from certgen.report.packet import find_maker
from certgen.report.writing import compose_pdf
from certgen.verification import supplied
from certgen.verification.supplied import PacketVerifier, read_supplied
from certgen.verification.verification import verify_bytes

if TYPE_CHECKING:
    from collections.abc import Callable

ON = date(2026, 10, 20)
SUPPLIER = "Larkfold Seed Orchard"
PART = {
    "supplier": SUPPLIER, "certificate": "C-0417", "supplier_lot": "L1", "packet": "larkfold.pdf",
    "weight": "3 g",
}  # fmt: skip


@cache
def signed_packet() -> bytes:
    """The supplier's packet, signed with the supplier's key."""
    return sign_bytes(line_packet(), new_signer("R. Alder"))


def key() -> str:
    """The digest of the supplier's key."""
    return key_digest(new_signer("R. Alder").signing_cert)


@pytest.fixture
def buy(tmp_path: Path) -> Callable[..., Path]:
    """`buy(pdf, **files)`: the folder of Quillmere Growers, who packed three bought grams as lot Q1."""

    def build(pdf: bytes, known: str = "", **files: bytes) -> Path:
        folder = tmp_path / "quillmere"
        folder.mkdir(exist_ok=True)
        tables = one_line()
        lots = [*tables["lots"], lot("Q1", [PART], 3, packed=date(2026, 8, 25))]
        for one in lots:
            one["label"] = {**one["label"], "last_certified_operation": "Quillmere Growers"}
        signer = {
            "party": SUPPLIER, "key": fingerprint(known or key()), "told_by": "R. Alder",
            "date": "2026-08-20",
        }  # fmt: skip
        operation = {"name": "Quillmere Growers", "certificate": "C-0888", "responsible": "O. Mere"}
        write_season(
            folder,
            details={"operation": operation, "known_signers": [signer]},
            **{**tables, "lots": lots},
        )
        (folder / "evidence").mkdir(exist_ok=True)
        for name, data in {"larkfold": pdf, **files}.items():
            (folder / "evidence" / f"{name}.pdf").write_bytes(data)
        return folder

    return build


def bought(folder: Path, **how: Any) -> tuple[str, list[str]]:
    """The standing of the bought lot, and the rules that speak of its packet."""
    result = examine(folder, ON, packets=PacketVerifier(**how))
    return result.lots["Q1"].standing, [gap.rule for gap in result.gaps if gap.rule.startswith("packet-")]


def packet_of(result: Result) -> bytes:
    """A result's own packet."""
    return compose_pdf(result, manifest=build_manifest(result, find_maker(result)), pool=Pool(0))


def test_what_a_packet_shows_is_taken_from_the_records_inside() -> None:
    """Whose it is, of which day, each lot, what left to whom, and who signed."""
    found = read_supplied(signed_packet())

    assert () == found.faults
    assert (Party(SUPPLIER, "C-0417"), "papaya", date(2026, 10, 1)) == (found.operation, found.crop, found.on)
    assert ("Amber Kestrel", "organic", "traced") == (
        found.lots["L1"].variety, found.lots["L1"].status, found.lots["L1"].standing,
    )  # fmt: skip
    sold = Dispatch("L1", "Quillmere Growers", date(2026, 8, 17), 3_000, "INV-M1")
    assert (sold,) == found.dispatches
    assert [(key(), True)] == [(one.key, one.holds) for one in found.signers]
    assert ((), 1, "") == (found.behind, found.depth, found.replaces)
    sha256 = hashlib.sha256(manifest_text(manifest_of(line_packet()))).hexdigest()
    assert found.fingerprint.replace(" ", "") == sha256[: len(found.fingerprint.replace(" ", ""))]


def test_bought_seed_is_traced_through_it_and_so_says_the_buyers_packet(buy: Callable[..., Path]) -> None:
    """The buyer's packet verifies from its bytes alone, with the supplier's verified again inside it."""
    result = examine(buy(signed_packet()), ON, packets=PacketVerifier())

    assert ("traced", 3_000) == (result.lots["Q1"].standing, result.lots["Q1"].traced_mg)
    assert [SUPPLIER] == [one.supplier for one in list_through(result, "Q1")]
    pdf = packet_of(result)
    seen: list[SuppliedPacket] = []
    found = verify_bytes(pdf, extract=lambda again: seen.extend(again.case.supplied.packets.values()))
    assert () == found.faults
    assert [Party(SUPPLIER, "C-0417")] == [one.operation for one in seen]
    again = read_supplied(pdf)
    assert (2, (Party(SUPPLIER, "C-0417"),)) == (again.depth, again.behind)


def test_a_member_of_a_co_op_that_hands_in_an_archive_keeps_its_suppliers_packet(
    buy: Callable[..., Path], tmp_path: Path
) -> None:
    """The zip's packet is verified as the folder's would be."""
    folder, target = buy(signed_packet()), tmp_path / "unpacked"
    target.mkdir()
    unpack(Path(shutil.make_archive(str(tmp_path / "member"), "zip", folder)), target)

    assert "traced" == bought(target)[0]


def test_a_packet_that_the_buyers_own_has_no_room_for_shows_nothing_in_either(
    buy: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever has the buyer's packet alone comes to the same answer as the buyer."""
    for name in ("certgen.manifest.EVIDENCE_BYTES", "certgen.records.supplied.ATTACHED_BYTES"):
        monkeypatch.setattr(name, 1000)
    result = examine(buy(signed_packet()), ON, packets=PacketVerifier())

    assert "unproven" == result.lots["Q1"].standing
    assert () == verify_bytes(packet_of(result)).faults


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        (lambda _pdf: line_packet(), "packet-signer-unknown"),
        (lambda _pdf: sign_bytes(line_packet(), new_signer(SUPPLIER)), "packet-signer-unknown"),
        (lambda _pdf: blank_pdf({"letter.txt": b"all of it is traced"}), "packet-unsound"),
        (lambda pdf: pdf[:-400], "packet-unsound"),
        (lambda pdf: pdf + b"\n% a word", "packet-unsound"),
    ],
    ids=["unsigned", "another key", "no packet", "cut short", "a word behind"],
)  # fmt: skip
def test_what_proves_nothing(buy: Callable[..., Path], change: Callable[[bytes], bytes], rule: str) -> None:
    """Unsigned, signed by nobody known, no packet at all, damaged."""
    assert ("unproven", [rule]) == bought(buy(change(signed_packet())))


def test_a_forged_page_signed_by_the_supplier_itself_proves_nothing(buy: Callable[..., Path]) -> None:
    """A key vouches for bytes; that the pages follow from the records only making them anew shows."""

    def rewrite(document: Any) -> None:
        document.docinfo["/Title"] = "CERTIFIED"

    forged = sign_bytes(edited(line_packet(), rewrite), new_signer("R. Alder"))

    assert ("unproven", ["packet-unsound"]) == bought(buy(forged))


def test_a_packet_is_read_once_and_kept_under_its_bytes(
    buy: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The next run verifies nothing; without the cache, or by other code, it is verified anew."""
    read: list[int] = []
    sound = SuppliedPacket(Party("Z"), faults=("told by a test",))
    monkeypatch.setattr(supplied, "read_supplied", lambda pdf: (read.append(len(pdf)), sound)[1])
    cache, folder = tmp_path / "cache", buy(signed_packet())
    cache.mkdir(mode=0o700)
    first = PacketVerifier(cache)
    path = folder / "evidence" / "larkfold.pdf"

    assert (sound, sound) == (first(path), first(path))
    assert (1, sound) == (len(read), PacketVerifier(cache)(path))
    assert 1 == len(read)
    assert (sound, 2) == (PacketVerifier()(path), len(read))
    monkeypatch.setattr(supplied, "code_digest", lambda: "other code")
    assert (sound, 3) == (PacketVerifier(cache)(path), len(read))


def test_a_packet_that_asks_for_too_much_is_refused(buy: Callable[..., Path]) -> None:
    """And isn't kept: another day there may be time."""
    folder = buy(signed_packet())
    found = PacketVerifier(limits=Limits(0.01, 512))(folder / "evidence" / "larkfold.pdf")

    assert ("verifying it takes longer than the 0.01 seconds that it is given",) == found.faults


def test_what_replaces_a_packet_is_told_without_verifying(tmp_path: Path) -> None:
    """Of a packet its manifest says so; any other file replaces nothing."""
    manifest = {**manifest_of(line_packet()), "replaces": "ab" * 32}
    for name, files in (("new", {NAME: manifest_text(manifest)}), ("letter", {"a.txt": b"x"})):
        (tmp_path / f"{name}.pdf").write_bytes(blank_pdf(files))
    (tmp_path / "text.pdf").write_text("no pdf")
    told = {
        name: PacketVerifier().replaced_by(tmp_path / f"{name}.pdf") for name in ("new", "letter", "text")
    }

    assert {"new": "abab abab abab abab abab", "letter": "", "text": ""} == told


def chain(depth: int, beside: int = 0) -> bytes:
    """So many packets in one another; none of them sound. `beside` more lie in the last."""
    text = manifest_text(manifest_of(line_packet()))
    others = {f"evidence/{at}.pdf": blank_pdf({NAME: text, f"{at}.txt": b"x"}) for at in range(beside)}
    pdf = blank_pdf({NAME: text, **others})
    for _ in range(depth - 1):
        pdf = blank_pdf({NAME: text, "evidence/inner.PDF": pdf, "evidence/letter.pdf": b"no packet"})
    return pdf


@pytest.mark.parametrize(("depth", "told"), [(1, 1), (2, 2), (DEEPEST, DEEPEST), (6, 6), (9, 6)])
def test_depth_is_a_matter_of_the_file(depth: int, told: int) -> None:
    """However deep the asker stands himself; what is too deep is not verified at all."""
    found = read_supplied(chain(depth))

    assert told == found.depth
    assert (told > DEEPEST) == (found.faults == ())


def test_more_packets_than_anybody_follows_are_too_deep() -> None:
    """A packet of hundreds is not made anew hundreds of times."""
    assert DEEPEST < read_supplied(chain(1, beside=40)).depth
