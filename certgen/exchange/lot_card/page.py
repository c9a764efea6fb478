"""The card as a page: set from its facts alone, which lie inside the file."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.lot_card.code import write_code
from certgen.exchange.lot_card.facts import write_facts
from certgen.manifest import write_fingerprint
from certgen.records.quantities import format_mass
from certgen.rules.wording import capital, count, day, join
from certgen.typeset.design import COLOURS, Settings, find_sheet
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.marks import draw_mark
from certgen.typeset.svg import qr_code
from certgen.typeset.typst_pages import compile_typst, design_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

#: The name of the facts inside the file.
NAME: Final = "lot-card.json"
LANGUAGE: Final = "en"
NO_CERTIFICATE: Final = (
    "This card repeats what the operation’s records come to by certgen’s rules. It supports a certifier’s"
    " decision and certifies nothing: whether the operation and this seed are certified, the certifier says."
)
_STANDINGS: Final = ("traced", "unproven", "rejected", "unaccounted")
_MEANINGS: Final = {
    "traced": "each step from parents that were screened and cleared to this packet is shown by a record",
    "unproven": "something that the claim needs is not shown",
    "rejected": "something speaks against the claim",
    "unaccounted": "a count found that it is no longer there",
}


def set_card(facts: Mapping[str, Any]) -> bytes:
    """The card as a PDF of one page. The same facts give the same bytes.

    Raises `SettingError` where a name is longer than any page.
    """
    when = date.fromisoformat(facts["on"])
    settings = Settings(f"Seed lot {facts['lot']}", LANGUAGE, find_sheet(facts["page"]), when, "")
    packet = write_fingerprint(facts["packet"])
    data = {
        **design_of(settings),
        "operation": fit_to_set(facts["operation"]["name"]),
        "lot": fit_to_set(facts["lot"]),
        "variety": fit_to_set(facts["variety"] or "Variety not recorded"),
        "botanical": facts["botanical"],
        "under": _say_origin(facts),
        "standing": [
            {
                "mark": draw_mark(name),
                "grams": _weigh(facts, name),
                "word": name,
                "means": capital(says) + ".",
            }
            for name, says in _MEANINGS.items()
            if facts[f"{name}_mg"] or name == facts["standing"]
        ],
        "held": "The operation holds this lot back: nothing of it is to leave." if facts["held"] else "",
        "rows": [
            {"head": head, "lines": [fit_to_set(line) for line in lines]} for head, lines in _rows(facts)
        ],
        "germination": _say_germination(facts["germination"]),
        "methods": [_tell_method(one) for one in facts["methods"]],
        "open": [[fit_to_set(one["asked"]), fit_to_set(one["answer"])] for one in facts["open"]],
        "label": [[name, fit_to_set(value)] for name, value in facts["label"]],
        "code": qr_code(write_code(facts), quiet=2, colour=COLOURS["ink"]),
        "code_says": f"QR code of this card: lot {facts['lot']}, its standing, packet {packet}",
        "packet": packet,
        "signed": bool(facts["signature"]),
        "not": NO_CERTIFICATE,
        "foot": f"{packet} · certgen {facts['made_by']['version']} · records as of {facts['on']}",
        "name": NAME,
        "facts": write_facts(facts).decode(),
    }
    return compile_typst("lot_card.typ", data, epoch=settings.epoch)


def _weigh(facts: Mapping[str, Any], standing: str) -> str:
    """The grams of a standing, of how many where they aren't all."""
    grams, whole = facts[f"{standing}_mg"], facts["weight_mg"]
    return format_mass(grams) if grams == whole else f"{format_mass(grams)} of {format_mass(whole)}"


def _say_origin(facts: Mapping[str, Any]) -> str:
    operation = facts["operation"]
    packed = (
        f"Packed {day(date.fromisoformat(facts['packed']))}"
        if facts["packed"]
        else "Day of packing not recorded"
    )
    certificate = (
        f"certificate {operation['certificate']}" if operation["certificate"] else "no certificate recorded"
    )
    certifier = f"certifier {operation['certifier']}" if operation["certifier"] else "no certifier recorded"
    return fit_to_set(f"{packed} by {operation['name']}, {certificate}, {certifier}.")


def _rows(facts: Mapping[str, Any]) -> Iterator[tuple[str, list[str]]]:
    """What is told in sentences, each group under a head of its own."""
    if facts["findings"]:
        yield (
            "What stands against it",
            [f"{one['title']}{_say_times(one['count'])}" for one in facts["findings"]],
        )
    yield "Parents", list(_say_parents(facts["parents"]))


def _say_times(number: int) -> str:
    return f" ({number} times)" if number > 1 else ""


def _say_parents(parents: Mapping[str, Any]) -> Iterator[str]:
    if not parents["trees"] and not parents["through_packets"]:
        yield "The records lead this lot back to no parent tree."
    elif parents["trees"]:
        cleared, trees = parents["cleared"], count(parents["trees"], "parent tree")
        told = f"{cleared} of {trees} {'was' if cleared == 1 else 'were'} screened and found negative"
        yield told + (
            f", {parents['pollen_only']} of them as the pollen’s." if parents["pollen_only"] else "."
        )
    if parents["doubted"]:
        yield f"Of {count(parents['doubted'], 'parent tree')} the result, or the tree, is in doubt."
    if parents["positive"]:
        yield f"{capital(count(parents['positive'], 'parent tree'))} tested positive for a transgene."
    if parents["seed_without_parent"]:
        yield f"Of {parents['seed_without_parent']} of the seed no parent is on record."
    if parents["through_packets"]:
        yield (
            "Seed that the operation bought is traced through "
            f"{count(parents['through_packets'], 'signed packet')} of its supplier."
        )


def _say_germination(tested: Mapping[str, Any] | None) -> str:
    if tested is None:
        return "No test is recorded."
    told = (
        f"{tested['percent']} % of {count(tested['seeds'], 'seed')}, tested "
        f"{day(date.fromisoformat(tested['tested']))}"
    )
    if not tested["agrees"]:
        return f"{told}. The replicates lie further apart than chance allows, so the figure means little."
    if not tested["holds_until"]:
        return f"{told}."
    until = day(date.fromisoformat(tested["holds_until"]))
    basis = "as seed law is read" if tested["by"] == "seed law" else "by common practice"
    return f"{told}; such a test holds until {until} {basis}."


def _tell_method(method: Mapping[str, Any]) -> list[str]:
    named = ", ".join((method["method"], *method["targets"]))
    return [
        fit_to_set(named),
        str(method["results"]),
        fit_to_set(join(method["sees"])) or "none of those asked about",
        fit_to_set(capital(method["cannot_see"])),
    ]
