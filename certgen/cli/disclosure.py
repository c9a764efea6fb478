"""Whom a command's output is for: what was asked for, checked, and the season as that reader may see it."""

from __future__ import annotations

from contextlib import ExitStack, contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import click

from certgen.cli.arguments import refusing
from certgen.manifest import PacketOptions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from certgen.examination import Result


@contextmanager
def show_to(
    result: Result, options: PacketOptions, reader: str, party: str
) -> Iterator[tuple[Result, PacketOptions]]:
    """The season and a packet's options as a reader may see them: for the certifier as they are.

    Ends the command with a sentence where what was asked for can't be shown to that reader.
    """
    if reader == "certifier":
        if party:
            raise click.BadParameter("It goes with --for buyer or --for member.", param_hint="--to")
        yield result, options
        return
    from certgen.cli.progress import show_waiting
    from certgen.disclosure.disclosing import DisclosureError, disclose_lot
    from certgen.manifest import build_manifest
    from certgen.report.packet import find_maker

    lot = _choose_lot(result, options.lots or ())
    buyer = choose_buyer(result, lot, party)
    full = build_manifest(result, find_maker(result), PacketOptions(options.page)).sha256
    with ExitStack() as stack:
        with refusing(DisclosureError), show_waiting("leaving out what isn't theirs to see"):
            shown = stack.enter_context(disclose_lot(result, lot, buyer))
        yield shown, replace(options, registers="none", lots=(lot,), reader=reader, party=buyer, full=full)


@contextmanager
def show_line(result: Result, options: PacketOptions) -> Iterator[tuple[Result, PacketOptions]]:
    """The season cut down to the line of the lots that a packet is about, and the packet's options; as it is
    a season of which no lot was named, and one that is disclosed already.

    Ends the command with a sentence where a lot can't be told by its own line alone.
    """
    if not options.lots or options.withholds:
        yield result, options
        return
    from certgen.cli.progress import show_waiting
    from certgen.disclosure.disclosing import DisclosureError
    from certgen.disclosure.lot_papers import cut_packet
    from certgen.verification.supplied import LIMITS, PacketVerifier

    with ExitStack() as stack:
        with refusing(DisclosureError), show_waiting("leaving out what isn't of the lot's line"):
            cut = stack.enter_context(cut_packet(result, options, PacketVerifier(limits=LIMITS)))
        yield cut


@contextmanager
def show_alone(
    result: Result, lots: Sequence[str], reader: str, party: str, instead: str = ""
) -> Iterator[Result]:
    """The season as a reader may see it, without a packet. `instead` is what there is for a member or the
    public."""
    if reader in {"member", "public"}:
        raise click.BadParameter(f"{instead or _INSTEAD[reader]}", param_hint="--for")
    with show_to(result, PacketOptions(lots=tuple(lots) or None), reader, party) as (shown, _):
        yield shown


#: What a member and the public are given, and by which command.
_INSTEAD: Final = {
    "member": "A member is shown what passed between the two of you: certgen export --for member --to NAME"
    " --format json or csv.",
    "public": "The public is shown the lot's card: certgen card, or certgen export --for public --lot LOT"
    " --format json.",
}


def refuse_others(reader: str, why: str) -> None:
    """Ends a command that has nothing for anybody but the certifier."""
    if reader != "certifier":
        raise click.BadParameter(why, param_hint="--for")


def gather_card(result: Result, lots: Sequence[str]) -> dict[str, Any]:
    """The facts of one lot's card, which is what the public is shown."""
    from certgen.disclosure.lot_papers import gather_own_card

    return gather_own_card(result, _choose_lot(result, lots, "The public"))


def choose_member(result: Result, party: str) -> str:
    """The member's name as the records write it."""
    from certgen.disclosure.choice import is_same_name
    from certgen.records.rows import plain_values

    names = list(dict.fromkeys(filter(None, plain_values(result.season.table("movements")["party"]))))
    if not party:
        raise click.UsageError("A member is shown what passed between the two of you. Name them with --to.")
    found = next((name for name in names if is_same_name(name, party)), "")
    if not found:
        raise click.BadParameter(f"No movement of this season names '{party}'.", param_hint="--to")
    return found


def _choose_lot(result: Result, lots: Sequence[str], who: str = "A buyer") -> str:
    """The one lot that somebody is shown."""
    if len(lots) != 1:
        message = f"{who} is shown one lot. Name it with --lot" + (
            f"; there are {', '.join(result.lots)}." if result.lots and len(result.lots) <= 12 else "."
        )
        raise click.UsageError(message)
    return lots[0]


def choose_buyer(result: Result, lot: str, party: str) -> str:
    """The buyer's name as the records write it; where nobody is named, the only one that there is."""
    from certgen.disclosure.choice import is_same_name, list_receivers

    there = list_receivers(result, lot)
    if not there:
        raise click.UsageError(f"By the records nothing of lot {lot} went to anybody, so it has no buyer.")
    if not party and len(there) == 1:
        return there[0]
    found = next((name for name in there if is_same_name(name, party)), "")
    if not found:
        said = f"'{party}' had nothing of lot {lot}." if party else f"Lot {lot} went to several."
        raise click.BadParameter(f"{said} Name one of: {', '.join(there)}.", param_hint="--to")
    return found
