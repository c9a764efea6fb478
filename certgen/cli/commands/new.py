"""`certgen new`: a season's folder to fill in."""

from __future__ import annotations

import re
import shlex
import sys
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any, TypeVar

import click

from certgen.cli.arguments import (
    PATH,
    Day,
    Number,
    argument,
    command,
    force_option,
    names_option,
    option,
    refusing,
    split_list,
)
from certgen.cli.terminal import Terminal, clean

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from certgen.examination import Result
    from certgen.exchange.editing.next_season import Takeover
    from certgen.exchange.editing.skeleton import Beginning

T = TypeVar("T")


@command(
    'certgen new 2027 --operation "Lantern Gully Seed Orchard" --standard us-nop --from 2027-01-01',
    "certgen new 2027 --after 2026",
    'certgen new wells --coop --operation "Four Wells" --member "HOLLOW; Hollow Acre; QR-19; 2019-03-15"',
)
@argument("folder", "DIR", "The folder to make.", type=PATH)
@option("--after", metavar="OLD", type=PATH, help="The folder of the season before: take over what lasts.")
@option("--operation", metavar="NAME", default="", help="The operation, as its certificate names it.")
@option("--crop", metavar="CROP", default="", help="The crop profile. Default: papaya.")
@names_option("--standard", metavar="KEY", help="A rulebook the seed is to meet. Default: us-nop.")
@option("--label", metavar="NAME", default="", help="The season's short name. Default: its year.")
@option("--from", "first", metavar="DATE", type=Day(), help="First day. Default: 1 January.")
@option("--to", "last", metavar="DATE", type=Day(), help="Last day. Default: 31 December.")
@option(
    "--stated-by",
    metavar="NAME",
    default="",
    help="With --after: who states the routine and own figures of the season before anew, as of today.",
)
@option(
    "--coop",
    is_flag=True,
    help="A co-op's folder: its members, its control, a place for their records.",
)
@option("--certifier", metavar="NAME", default="", help="With --coop: its certifier.")
@option("--office", metavar="NAME", default="", help="With --coop: who signs the letters to members.")
@option(
    "--answer-days", metavar="N", type=Number(min=1), help="With --coop: days that members have to answer."
)
@option(
    "--member",
    "members",
    metavar="TEXT",
    multiple=True,
    help="With --coop: 'KEY; NAME; CERTIFICATE; JOINED', and '; archive' or '; workbook' where it hands in no"
    " folder. Repeat it.",
)
@force_option
def run(
    folder: Path,
    after: Path | None,
    operation: str,
    crop: str,
    standard: list[str],
    label: str,
    first: date | None,
    last: date | None,
    stated_by: str,
    coop: bool,
    certifier: str,
    office: str,
    answer_days: int | None,
    members: tuple[str, ...],
    force: bool,
) -> int:
    """Lay out a season's folder: every table explained where it is filled in, and nothing in it that is
    wrong.

    Asks for what is not given; a refused answer is asked again, and every question has its option. Never
    overwrites anything. An editor that knows YAML schemas finds the season's by the first line of each file,
    or by the setting `yaml.schemas` in .schemas/editor-settings.json.

    With --after the land, plantings, living trees, the operation and the stock that was counted are taken
    over, and the season begins the day after the other ended. What is not taken over is said, here and at
    the head of season.yaml. A routine holds only once somebody states it anew.

    With --coop it is the folder of a co-op's office, which `certgen coop` reads: --operation is the co-op's
    name then.
    """
    if coop:
        from certgen.cli.coop_layout import lay_out_office, refuse_of_season

        refuse_of_season(after, crop, label, first, last, stated_by, force=force)
        return lay_out_office(folder, operation, certifier, office, standard, answer_days, members)
    if certifier or office or answer_days is not None or members:
        raise click.UsageError("--certifier, --office, --answer-days and --member go with --coop.")
    from certgen.cli.output import name_author, tell_kept
    from certgen.exchange.editing.skeleton import check_beginning, hold_folder, lay_out

    with refusing(FileExistsError):
        hold_folder(folder, force=force)
    given = _Given(folder, operation, crop, standard, label, first, last)
    before = None
    if after is not None:
        beginning, before = _follow(given, after, stated_by)
    else:
        if stated_by:
            raise click.UsageError(
                "--stated-by goes with --after: it states anew what a season before stated."
            )
        beginning = given.beginning() if operation else _ask(given)
    with refusing(ValueError, FileExistsError):
        check_beginning(beginning)
        names, kept = lay_out(folder, beginning, before=before, force=force, author=name_author("new"))
    tell_kept(kept)
    _tell(folder, names, before)
    return 0


def _tell(folder: Path, names: list[str], before: Takeover | None) -> None:
    typed = shlex.quote(str(folder))
    out = Terminal()
    out.text(f"{folder} is laid out: {', '.join(names)}, and evidence/ for letters and photos.")
    if before is not None:
        out.heading(f"Taken over from season {clean(' '.join(before.label.split()))}")
        for said in before.taken:
            out.text(f"- {said}", 2, hang=2)
        out.heading("Not taken over")
        for said in before.left:
            out.text(f"- {said}", 2, hang=2)
        out.line()
        out.text("Open season.yaml first, and state anew what holds; it stands there as a comment.")
    elif beside := _list_seasons(folder):
        names_beside = " or ".join(f"--after {shlex.quote(str(one))}" for one in beside)
        out.text(f"If it follows another season, remove it and lay it out with {names_beside}.")
    out.text(
        "Open trees.yaml and go on from there; each file says what belongs in it. Or fill in a workbook: "
        f"certgen export {typed} --empty --out season.xlsx, then certgen import {typed} season.xlsx. "
        f"To see what is missing: certgen check {typed}"
    )


def _list_seasons(folder: Path) -> list[Path]:
    """The seasons that lie beside a new one, three at most, the latest names first."""
    from certgen.exchange.editing.skeleton import is_seasons_folder

    try:
        near = sorted(folder.parent.iterdir(), reverse=True)
        return [one for one in near if is_seasons_folder(one) and not one.samefile(folder)][:3]
    except OSError:
        return []


@dataclass(slots=True)
class _Given:
    """What was given as options, and answered since."""

    folder: Path
    operation: str = ""
    crop: str = ""
    standards: list[str] = field(default_factory=list)
    label: str = ""
    first: date | None = None
    last: date | None = None

    def beginning(self) -> Beginning:
        """The season's beginning, with what wasn't given as it usually is."""
        from certgen.exchange.editing.skeleton import Beginning

        named = re.fullmatch(r"(?:19|2[0-9])[0-9]{2}", self.folder.resolve().name)
        # A folder called 2027 is the season 2027's, whatever the day on which it is laid out.
        year = int(named.group()) if named else date.today().year
        start = self.first or date(year, 1, 1)
        end = self.last or date(start.year, 12, 31)
        standards = tuple(self.standards or ["us-nop"])
        return Beginning(
            self.operation, self.label or str(start.year), start, end, self.crop or "papaya", standards
        )

    def command(self) -> str:
        """The command that gives the same answers again."""
        words = ["certgen", "new", str(self.folder)]
        for name, value in (
            ("--operation", self.operation), ("--crop", self.crop), ("--standard", ",".join(self.standards)),
            ("--label", self.label), ("--from", self.first), ("--to", self.last),
        ):  # fmt: skip
            if value:
                words += [name, str(value)]
        return shlex.join(words)


# After another season


def _follow(given: _Given, old: Path, stated_by: str) -> tuple[Beginning, Takeover]:
    """The beginning of the season after another, and what it takes over."""
    from certgen.cli.output import examine_or_refuse
    from certgen.exchange.editing.next_season import (
        days_after,
        label_after,
        path_between,
        take_over,
        year_from,
    )
    from certgen.exchange.editing.skeleton import Beginning

    with refusing(ValueError):
        path = path_between(given.folder, old)
    result = examine_or_refuse(old, _last_day(old))
    details = result.season.details
    _check_operation(given, result)
    first, last = days_after(result.season)
    if given.first is not None:
        first, last = given.first, year_from(given.first)
    last = given.last or last
    label = given.label or label_after(result.season, first, last)
    with refusing(ValueError):
        if not stated_by and sys.stdin.isatty():
            stated_by = _ask_statement(result)
        before = take_over(result, path, first, label, stated_by=stated_by, today=date.today())
    standards = tuple(given.standards or details.standards)
    crop = given.crop or details.crop
    return Beginning(details.operation.name, label, first, last, crop, standards), before


def _last_day(old: Path) -> date | None:
    """The last day of a season, as of which it is looked at; None where it can't be read."""
    from certgen.disk_cache import cache_folder
    from certgen.standards.season_reading import read_case

    season, _ = read_case(old, cache=cache_folder())
    return None if season is None else season.details.end


def _check_operation(given: _Given, result: Result) -> None:
    """A season follows one of its own operation only."""
    from certgen.records.season import Operation

    before = result.season.details.operation
    if given.operation and not before.is_same(Operation(given.operation)):
        raise click.UsageError(
            f"{result.season.folder} is a season of {before.name}; leave --operation out, or name a season of"
            f" {given.operation} with --after."
        )


def _ask_statement(result: Result) -> str:
    """Who states anew what the season before stated, asked of whoever sits there; nobody, by an empty
    answer.
    """
    from certgen.exchange.editing.restatement import sort_details

    _, restated = sort_details(result)
    if not restated:
        return ""
    out = Terminal()
    out.text(f"Season {result.season.details.label} had these, which hold only if somebody states them anew:")
    for one in restated:
        out.text(f"- `{one.field}`: {_show(one.value)}. {one.why}", 2, hang=2)
    return str(
        click.prompt("Who states them anew? (nobody: press Enter)", default="", show_default=False)
    ).strip()


def _show(value: Any) -> str:
    from certgen.exchange.editing.yaml_text import render_flow

    return clean(render_flow(value))


# Asking


def _ask(given: _Given) -> Beginning:
    """Asks for what wasn't given, each question until its answer will do; the others keep theirs.

    A script is asked nothing: every question has its option.
    """
    from certgen.exchange.editing.skeleton import check_span
    from certgen.standards import PROFILES, RULEBOOKS, load_profile, load_rulebook

    if not sys.stdin.isatty():
        raise click.UsageError(
            "Say whose season this is, as its certificate names it: "
            f'certgen new {shlex.quote(str(given.folder))} --operation "NAME"'
        )
    usual = given.beginning()

    def known(load: Callable[[str], object], text: str) -> str:
        load(text)
        return text

    def read_standards(text: str) -> list[str]:
        return [known(load_rulebook, key) for key in split_list([text])] or _refuse_empty()

    def read_last(text: str) -> date:
        last = _read_day(text)
        check_span(given.first or usual.start, last)
        return last

    given.operation = _ask_one(
        given, "Operation, as its certificate names it", None, lambda text: text.strip() or _refuse_empty()
    )
    if not given.crop:
        crops = f"Crop ({', '.join(PROFILES)})"
        given.crop = _ask_one(given, crops, usual.crop, lambda text: known(load_profile, text.strip()))
    if not given.standards:
        books = f"Standards, by commas ({', '.join(RULEBOOKS)})"
        given.standards = _ask_one(given, books, ", ".join(usual.standards), read_standards)
    if given.first is None:
        given.first = _ask_one(given, "First day", usual.start.isoformat(), _read_day)
    usual = given.beginning()
    if given.last is None:
        given.last = _ask_one(given, "Last day", usual.end.isoformat(), read_last)
    if not given.label:
        given.label = _ask_one(
            given, "Season's short name", usual.label, lambda text: text.strip() or _refuse_empty()
        )
    return given.beginning()


def _ask_one(given: _Given, question: str, usual: str | None, read: Callable[[str], T]) -> T:
    """An answer that will do; one that won't is asked again. Whoever breaks off keeps what was answered."""
    while True:
        try:
            text = click.prompt(question, default=usual)
        except click.Abort:
            if given.operation:
                click.echo(f"\nTo go on with these answers: {given.command()}", err=True)
            raise
        try:
            return read(str(text))
        except ValueError as fault:
            click.echo(f"{clean(str(fault)).rstrip('.')}.", err=True)


def _refuse_empty() -> Any:
    raise ValueError("this needs an answer")


def _read_day(text: str) -> date:
    """A day as it is typed; what leaves open which number is the month isn't guessed."""
    try:
        return Day().convert(text.strip(), None, None)
    except click.BadParameter as fault:
        raise ValueError(fault.message.rstrip(".")) from None
