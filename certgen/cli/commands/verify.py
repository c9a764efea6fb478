"""`certgen verify`: do this packet's pages follow from the records inside it, and who says so?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from certgen.cli.arguments import INPUT, PATH, argument, command, option, refusing
from certgen.cli.terminal import Terminal, clean

if TYPE_CHECKING:
    from certgen.verification.answers import Answer, Verification

_WORDS: Final = {"holds": "holds", "fails": "FAILS", "unknown": "UNKNOWN", "unasked": "–"}
_STYLES: Final = {"holds": "green", "fails": "red", "unknown": "yellow", "unasked": ""}


@command(
    "certgen verify report.pdf",
    "certgen verify report.pdf --key orchard.key.pub --against my-season",
    "certgen verify card.pdf --against report.pdf",
)
@argument(
    "file",
    "FILE.pdf",
    "A packet of certgen's, a lot's card, or the text of its code; - for standard input.",
    type=INPUT,
)
@option(
    "--key",
    metavar="KEY",
    default="",
    help="The key that must have signed it: a .pub file, or its fingerprint's letters.",
)
@option(
    "--trust", metavar="CERT", type=PATH, multiple=True, help="A certificate that you vouch for. Repeat it."
)
@option(
    "--against",
    metavar="PACKET|SEASON",
    type=PATH,
    help="Also say what differs from an earlier packet, or from a season's folder as it is now.",
)
@option("--quick", is_flag=True, help="Leave the pages out: quicker, and says nothing of them.")
def run(file: Path, key: str, trust: tuple[Path, ...], against: Path | None, quick: bool) -> int:
    """Make a packet anew from the records inside it and hold every byte against the file.

    Each line of the answer says what it shows, and what it leaves open.

    Exit code: 0 everything that was asked holds, 1 something does not or couldn't be told, 2 there is nothing
    that can be verified.
    """
    from certgen.cli.progress import show_waiting
    from certgen.exchange.signing.certificates import load_key_digest, load_trusted
    from certgen.exchange.signing.offline import SigningError
    from certgen.verification.attachments import PacketError
    from certgen.verification.files import looks_like_card, verify_file

    with refusing(PacketError, SigningError):
        wanted = load_key_digest(key) if key else ""
        trusted = [certificate for path in trust for certificate in load_trusted(path)]
        if looks_like_card(file):
            from certgen.verification.lot_cards import verify_card

            held = [*trusted, *(load_trusted(Path(key)) if Path(key).is_file() else ())]
            with show_waiting("holding the card against the records"):
                card = verify_card(file, key=wanted, certificates=held, against=against)
            if card is not None:
                _write_card(card)
                return 0 if card.sound else 1
        with show_waiting("making the packet anew"):
            found = verify_file(file, key=wanted, trusted=trusted, quick=quick, against=against)
    _write_text(found)
    return 0 if found.sound else 1


def _write_text(found: Verification) -> None:
    out = Terminal()
    season = found.manifest["season"]
    out.line(out.paint(clean(f"{season['operation']}, season {season['label']}"), "bold"))
    out.text(
        f"Records as of {found.manifest['on']}; made by certgen {found.manifest['version']}. On paper each"
        f" page bears: {found.fingerprint}"
    )
    looked = all(answer.verdict != "unasked" for answer in found.answers if answer.subject == "Pages")
    whole = "This packet's pages follow from the records inside it."
    part = "What was looked at holds. The pages weren't looked at."
    _write_answers(out, found, "packet", whole if looked else part, whole=looked)


def _write_card(found: Verification) -> None:
    """The answers about a lot's card, which bears no packet's head."""
    out = Terminal()
    out.line(out.paint("Seed lot card", "bold"))
    held = any(answer.verdict == "holds" and answer.subject == "Records" for answer in found.answers)
    whole = "This card says what the records come to."
    part = "What was looked at holds. No records were held against the card."
    _write_answers(out, found, "card", whole if held else part, whole=held)


def _write_answers(out: Terminal, found: Verification, what: str, sound: str, *, whole: bool) -> None:
    """Each answer, and what they come to; `sound` is said where nothing fails or stayed unknown."""
    for answer in found.answers:
        _write_answer(out, answer)
    out.line()
    if found.verdict == "fails":
        out.text(f"This {what} does not bear out what it says.", 0, "red")
    elif found.verdict == "unknown":
        out.text("Not all that was asked could be told here: see what is marked UNKNOWN.", 0, "yellow")
    else:
        out.text(sound, 0, "green" if whole else "yellow")


def _write_answer(out: Terminal, answer: Answer) -> None:
    out.line()
    verdict = out.paint(_WORDS[answer.verdict], "bold", _STYLES[answer.verdict])
    out.line(f"{out.paint(answer.subject, 'bold')}  {verdict}")
    out.text(answer.says, 2)
    for words in answer.details:
        out.text(words, 4, "" if answer.verdict == "holds" else _STYLES[answer.verdict], hang=2)
    if answer.shows:
        out.text(f"Shows: {answer.shows}", 2, hang=2)
    if answer.leaves:
        out.text(f"Leaves open: {answer.leaves}", 2, "dim", hang=2)
