"""`certgen new --coop`: a co-op's folder laid out, and what is asked where no option says it."""

from __future__ import annotations

import shlex
import sys
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from certgen.cli.arguments import Day, refusing, split_list
from certgen.cli.terminal import Terminal, clean
from certgen.coop.members.member_list import SOURCES
from certgen.coop.skeleton import CoopBeginning, NewMember, check_coop, hold_coop_folder, lay_out_coop
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date
    from pathlib import Path

T = TypeVar("T")

_USUAL_DAYS: Final = 21


def refuse_of_season(*given: object, force: bool) -> None:
    """Ends the command where something was given that only a season has."""
    if any(given):
        raise click.UsageError(
            "--after, --crop, --label, --from, --to and --stated-by are a season's: leave them out."
        )
    if force:
        raise click.UsageError("A co-op's folder is laid out where none is yet; leave --force out.")


def lay_out_office(
    folder: Path,
    name: str,
    certifier: str,
    office: str,
    standards: list[str],
    answer_days: int | None,
    members: tuple[str, ...],
) -> int:
    """Makes the folder of a co-op's office of what was given, and of what whoever sits there answers."""
    typed = shlex.quote(str(folder))
    given = CoopBeginning(name, certifier, office, tuple(standards), answer_days, read_members(members))
    with refusing(ValueError, FileExistsError):
        hold_coop_folder(folder)
        if name:
            check_coop(given)
        elif not sys.stdin.isatty():
            raise click.UsageError(
                f'Say how the co-op is called: certgen new {typed} --coop --operation "NAME"'
            )
        else:
            given = ask_coop(folder, given)
        names = lay_out_coop(folder, given)
    out = Terminal()
    out.text(f"{folder} is laid out: {join(names)}, members/ for what members hand in, evidence/ for papers.")
    for one in given.members:
        out.text(f"- {one.key}: its records go to {folder}/{one.path}", 2, hang=2)
    if not given.members:
        out.text("No member is on the list yet: coop.yaml shows how one is written.")
    out.text(
        f"To see where everybody stands, and what each has to send: certgen coop {shlex.quote(str(folder))}"
    )
    return 0


def read_members(typed: Sequence[str]) -> tuple[NewMember, ...]:
    """The members that `KEY; NAME; CERTIFICATE; JOINED; folder` tell, the last part `folder` unless said.

    Raises `click.UsageError` in words that say what to write instead.
    """
    return tuple(map(_read_member, typed))


def _read_member(typed: str) -> NewMember:
    parts = [part.strip() for part in typed.split(";")]
    if len(parts) not in (4, 5):
        raise click.UsageError(
            f"--member '{clean(typed)}' has {len(parts)} parts. Write it like this, in quotes: "
            '"HOLLOW; Hollow Acre; QR-2019-0203; 2019-03-15; archive" (its key, name, certificate, the day '
            f"it joined, and {', '.join(SOURCES)}: how it hands in)."
        )
    key, name, certificate, joined, *source = parts
    try:
        return NewMember(key, name, certificate, read_day(joined), *source)
    except click.BadParameter as fault:
        raise click.UsageError(f"--member {clean(key)}: {fault.message}") from None


def read_day(text: str) -> date:
    """A day as it is typed; what leaves open which number is the month isn't guessed. Raises
    `click.BadParameter`."""
    return Day().convert(text.strip(), None, None)


def tell_command(folder: Path, beginning: CoopBeginning) -> str:
    """The command that gives the same answers again."""
    words = ["certgen", "new", str(folder), "--coop"]
    for name, value in (
        ("--operation", beginning.name), ("--certifier", beginning.certifier), ("--office", beginning.office),
        ("--standard", ",".join(beginning.standards)), ("--answer-days", beginning.answer_days),
    ):  # fmt: skip
        if value:
            words += [name, str(value)]
    for one in beginning.members:
        words += ["--member", "; ".join((one.key, one.name, one.certificate, str(one.joined), one.source))]
    return shlex.join(words)


def ask_coop(folder: Path, given: CoopBeginning) -> CoopBeginning:
    """Asks for what wasn't given, each question until its answer will do. Whoever breaks off is told the
    command with the answers so far.
    """
    asking = _Asking(given)
    try:
        asking.ask()
    except click.Abort:
        if asking.known.name:
            click.echo(f"\nTo go on with these answers: {tell_command(folder, asking.known)}", err=True)
        raise
    return asking.known


class _Asking:
    def __init__(self, given: CoopBeginning) -> None:
        self.known = given

    def ask(self) -> None:
        """The questions in order; `known` grows with each answer."""
        self._ask("name", "The co-op's name", None, str.strip)
        if not self.known.certifier:
            self._ask("certifier", "Its certifier (none yet: press Enter)", "", str.strip)
        if not self.known.office:
            self._ask("office", "Who signs letters to members (nobody: press Enter)", "", str.strip)
        if not self.known.standards:
            from certgen.standards import RULEBOOKS

            books = f"Standards, by commas ({', '.join(RULEBOOKS)}; those of the members: press Enter)"
            self._ask("standards", books, "", lambda text: tuple(split_list([text])))
        if self.known.answer_days is None:
            self._ask("answer_days", "Days that members have to answer", str(_USUAL_DAYS), _read_days)
        if not self.known.members:
            click.echo("The members one by one; press Enter at the key when all are told.", err=True)
            while self._ask_member():
                pass

    def _ask(self, field: str, question: str, usual: str | None, read: Callable[[str], Any]) -> None:
        def take(text: str) -> CoopBeginning:
            changed = replace(self.known, **{field: read(text)})
            check_coop(changed)
            return changed

        self.known = _ask_until(question, usual, take)

    def _ask_member(self) -> bool:
        """One more member; False once an empty key ends the list."""
        key = _ask_until("Key, a short name in capitals", "", str.strip)
        if not key:
            return False
        name = _ask_until("Name, as others write it", None, str.strip)
        certificate = _ask_until("Number of its certificate", None, str.strip)
        joined = _ask_until("Day it joined", None, read_day)
        source = _ask_until(f"Hands in as ({', '.join(SOURCES)})", SOURCES[0], str.strip)
        changed = replace(
            self.known, members=(*self.known.members, NewMember(key, name, certificate, joined, source))
        )
        try:
            check_coop(changed)
        except ValueError as fault:
            click.echo(f"{clean(str(fault)).rstrip('.')}. Tell this member once more.", err=True)
            return True
        self.known = changed
        return True


def _read_days(text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise ValueError("write a whole number of days") from None


def _ask_until(question: str, usual: str | None, read: Callable[[str], T]) -> T:
    """An answer that will do; one that won't is asked again."""
    while True:
        text = click.prompt(question, default=usual, show_default=bool(usual))
        try:
            return read(str(text))
        except click.BadParameter as fault:
            said = fault.message
        except ValueError as fault:
            said = str(fault)
        click.echo(f"{clean(said).rstrip('.')}.", err=True)
