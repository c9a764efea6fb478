"""What a packet for somebody else than the certifier says besides its lot's dossier: for whom it is, what
they bought, and what was withheld, by which digest."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from certgen.manifest import write_fingerprint
from certgen.records.tables import load_tables
from certgen.report.chapters.cover import draw_fingerprint
from certgen.report.chapters.lot.dossiers import build_disclosed
from certgen.report.tables import Column, table
from certgen.report.wording import cell, count_of, fact, key, say_fields, say_most, weigh, write
from certgen.rules.wording import day, noun
from certgen.typeset.first_page import Cover
from certgen.typeset.parts import Chapter, Prose, Section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.manifest import Manifest, PacketOptions
    from certgen.report.context import Context
    from certgen.typeset.parts import Cell, Part

IS_TEXT: Final = (
    "What the records behind one lot of seed show, for the one it is made out to. The season’s records were"
    " made anew with this lot’s line alone and examined by the same rules; the lot came out the same to the"
    " milligram, with the same findings, or this file would not have been written."
)
IS_NOT_TEXT: Final = (
    "It is no certificate, no test report and no full packet. It doesn’t say what else was sold of the lot or"
    " is in stock. That codes stand for real records, and files for what they are called, shows only to"
    " whoever has the full packet: ‘certgen verify’ with ‘--against’ makes this file anew from it."
)
WITHHELD: Final = (
    "Trees, bags, pickings, batches, tests, people, other parties, laboratories, equipment and papers bear"
    " codes, counted out in an order that tells nothing of their own numbers. Free text reads"
    " ‘withheld’ where something was written. Places, other lots and other parties’ business are left out;"
    " where the lot wouldn’t come out the same without some of it, that is shown in codes. No file of"
    " evidence is inside."
)
_SALT: Final = (
    "Each digest is salted: a file of a few words could be guessed and held against a plain one. The salt"
    " follows from the full packet."
)
_DIGEST: Final = re.compile(r"^Salted SHA-256: ([0-9a-f]{64})$", re.MULTILINE)


def build_disclosed_cover(context: Context, manifest: Manifest, options: PacketOptions) -> Cover:
    """The first page of one lot's packet for one party."""
    details = context.season.details
    operation = details.operation
    (lot,) = context.result.lots.values()
    gaps = context.result.summary.gaps
    found = ", ".join(f"{count} {weight}" for weight, count in gaps.items() if count) or "none"
    facts = [
        fact("For", options.party),
        fact("Lot", f"{lot.lot}, {lot.variety or 'variety not recorded'}"),
        fact("Crop", f"{context.profile.title} ({context.profile.botanical})"),
        fact(
            "Checked against", "; ".join(f"{book.title}, {book.edition}" for book in context.result.rulebooks)
        ),
        fact("Certificate", operation.certificate or "not recorded"),
        fact("Certifier", operation.certifier or "not recorded"),
        fact("Records as of", day(context.result.on)),
        fact("Withheld", _say_withheld(context)),
    ]
    return Cover(
        title=f"One lot’s traceability report, for its {options.reader}",
        operation=operation.name,
        season=f"Season {details.label} · lot {lot.lot}, for {options.party}",
        facts=tuple(facts),
        verdict=tuple(_say_standing(lot)),
        is_text=IS_TEXT,
        is_not_text=IS_NOT_TEXT,
        file=(
            fact("Fingerprint", f"{manifest.fingerprint}, at the foot of every page"),
            fact("Full packet", f"{write_fingerprint(options.full)}, of the same records, day and paper"),
            fact("Findings", found),
            fact("Made by", f"certgen {context.result.version}; the same records give the same file"),
        ),
        code=draw_fingerprint(manifest),
    )


def _say_standing(lot: Any) -> Iterator[Cell]:
    for word, milligrams in (
        ("traced", lot.traced_mg), ("unproven", lot.unproven_mg), ("rejected", lot.rejected_mg),
        ("unaccounted", lot.unaccounted_mg),
    ):  # fmt: skip
        if milligrams:
            yield cell(f"{weigh(milligrams)} {word} of {weigh(lot.weight_mg)}", mark=word)
    if lot.standing != "traced":
        yield cell(f"The lot is {lot.standing}", mark=lot.standing)


def _say_withheld(context: Context) -> str:
    files = len(context.result.farm.evidence_files)
    return (
        f"names, numbers, places, free text, other lots and parties; {count_of('evidence', files)}, by digest"
    )


class _File(NamedTuple):
    """A withheld file: its code, its digest, and the records that name it."""

    code: str
    digest: str
    records: tuple[str, ...]


def build_withheld(context: Context) -> Section:
    """What was withheld, and each file by its digest."""
    files = list(_list_files(context))
    parts: list[Part] = [Prose((WITHHELD,))]
    if files:
        parts.append(
            table(
                count_of("evidence", len(files)).capitalize() + " withheld",
                (
                    Column("File", "key", lambda one: key(one.code), "8%"),
                    Column("Named by", "text", lambda one: say_most(one.records, 3), "22%"),
                    Column(
                        "Salted SHA-256", "text", lambda one: _halve(one.digest) or "the file is empty", "70%"
                    ),
                ),
                files,
                note=_SALT,
            )
        )
    return Section("withheld", "What was withheld", 1, tuple(parts), style="follow")


def _halve(digest: str) -> str:
    """A digest in two halves, which a narrow page sets below each other."""
    return f"{digest[:32]} {digest[32:]}".strip()


def _list_files(context: Context) -> Iterator[_File]:
    named: defaultdict[str, list[str]] = defaultdict(list)
    for name, one in load_tables().items():
        for column in one.columns:
            if column.kind == "evidence" and one.key:
                for _, identifier, files in context.result.farm.columns(name).rows(one.key, column.name):
                    for file in files:
                        named[file].append(f"{noun(name)} {identifier}")
    for file in sorted(context.result.farm.evidence_files, key=_number):
        text = (context.season.folder / "evidence" / file).read_text(encoding="utf-8", errors="replace")
        found = _DIGEST.search(text)
        code = file.rpartition("/")[2].removesuffix(".txt")
        yield _File(code, found[1] if found else "", tuple(dict.fromkeys(named.get(file, ["the season"]))))


def _number(file: str) -> tuple[int, str]:
    digits = re.findall(r"[0-9]+", file.rpartition("/")[2])
    return (int(digits[-1]) if digits else 0, file)


def build_lot_chapter(context: Context, lot: str, party: str, width: float) -> Chapter:
    """The lot's dossier with the party's own movements, and what was withheld."""
    head, *rest = build_disclosed(context, lot, width)
    own = Section(
        f"lots/{lot}#own", "Your movements", 2, tuple(_show_own_movements(context, lot, party)), style="minor"
    )
    return Chapter("dossier", (head, own, *rest, build_withheld(context)))


def _show_own_movements(context: Context, lot: str, party: str) -> list[Part]:
    """What of the lot went to the party, or came back from it."""
    rows = [row for row in context.rows_by("movements", "lot").get(lot, []) if _is_party(row, party)]
    if not rows:
        return [Prose((f"The records hold no movement of this lot to or from {party}.",))]
    return [
        table(
            count_of("movements", len(rows)).capitalize(),
            (
                Column("Date", "date", lambda row: write(row["date"])),
                Column("What", "text", lambda row: row["kind"]),
                Column("Weight", "number", lambda row: write(row["weight"])),
                Column("Document", "text", lambda row: row["document"] or "not recorded"),
                Column("Status", "text", lambda row: say_fields(row, "status") or "not recorded"),
            ),
            rows,
        )
    ]


def _is_party(row: Mapping[str, Any], party: str) -> bool:
    return " ".join(str(row["party"] or "").split()).casefold() == " ".join(party.split()).casefold()
