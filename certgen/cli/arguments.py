"""How a command is declared: its arguments and options, their kinds, and those that many commands share."""

from __future__ import annotations

import inspect
import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final, Never

import click

from certgen.cli.offered_names import offer_lots
from certgen.cli.terminal import clean

Run = Callable[..., int]
Decorator = Callable[[Run], Run]

PATH: Final = click.Path(path_type=Path)


class _Folder(click.Path):
    """A folder, there already or not."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The path, or a refusal that says what stands there instead."""
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if path.exists() and not path.is_dir():
            from certgen.whole_files import name_type

            self.fail(f"{path} is {name_type(path.stat().st_mode)}; name a folder", param, ctx)
        return path


FOLDER: Final = _Folder(path_type=Path)


_INPUT_FOLDER: Final = "certgen-input-"


class _Input(click.Path):
    """A file that is read; `-` is what comes on standard input, kept in a file until the command ends."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The path of the file."""
        if value != "-" or ctx is None or ctx.resilient_parsing:
            return super().convert(value, param, ctx)
        if sys.stdin.isatty():
            self.fail("nothing comes on standard input", param, ctx)
        data = sys.stdin.buffer.read()
        folder = ctx.with_resource(TemporaryDirectory(prefix=_INPUT_FOLDER))
        path = Path(folder) / f"standard-input{_tell_ending(data)}"
        path.write_bytes(data)
        return path


def _tell_ending(data: bytes) -> str:
    """What the name of a file would end in, by how it begins: a PDF, a workbook, records or a table."""
    if data.startswith(b"%PDF-"):
        return ".pdf"
    if data.startswith(b"PK"):
        return ".xlsx"
    first = next((line for line in data.splitlines() if line.strip() and not line.startswith(b"#")), b"")
    return ".yaml" if re.fullmatch(rb"[a-z_]+:.*", first) else ".csv"


INPUT: Final = _Input(path_type=Path)


def name_input(path: Path) -> str:
    """How a file that is read is named to the command again."""
    return "-" if path.parent.name.startswith(_INPUT_FOLDER) else str(path)


class Command(click.Command):
    """A command whose usage names its arguments ahead of the options, as README writes them."""

    def _list_arguments(self) -> list[click.Argument]:
        return [parameter for parameter in self.params if isinstance(parameter, click.Argument)]

    def collect_usage_pieces(self, ctx: click.Context) -> list[str]:
        """`[SEASON] [OPTIONS]`: what may be left out stands in brackets."""
        pieces = []
        for argument in self._list_arguments():
            name = argument.make_metavar(ctx)
            pieces.append(name if argument.required or name.startswith("[") else f"[{name}]")
        return [*pieces, "[OPTIONS]"]

    def format_arguments(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The arguments, under the plain word for them."""
        arguments = self._list_arguments()
        if arguments:
            with formatter.section("Arguments"):
                formatter.write_dl([argument.get_help_record(ctx) for argument in arguments])

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Refuses words that no argument takes, and lets every refusal know its command."""
        ctx.allow_extra_args = True
        try:
            rest = super().parse_args(ctx, args)
        except click.UsageError as fault:
            fault.ctx = ctx
            raise
        if rest and not ctx.resilient_parsing:
            refuse_words(rest)
        return rest


def refuse_words(words: Iterable[str]) -> Never:
    """Names what stands behind the last argument."""
    typed = " ".join(words)
    raise click.UsageError(f"'{typed}' is one word too many; put a name with spaces in quotes.")


def command(*examples: str) -> Callable[[Run], Command]:
    """Makes a command of a function that returns the exit code; its docstring is the command's help.

    The examples stand below it on lines of their own, never wrapped, so that they can be copied.
    """

    def declare(run: Run) -> Command:
        # \b keeps what follows as it stands.
        shown = ("\n".join(["\b", "Example:", *(f"  {line}" for line in e.splitlines())]) for e in examples)
        explained = "\n\n".join([inspect.getdoc(run) or "", *shown])
        return click.command(cls=Command, help=explained)(run)

    return declare


def argument(name: str, metavar: str, help: str, **settings: Any) -> Decorator:  # noqa: A002 (click's word)
    """An argument of a command; one with a default may be left out."""
    return click.argument(name, metavar=metavar, help=help, **settings)


def option(*names: str, help: str, **settings: Any) -> Decorator:  # noqa: A002 (click's word)
    """An option of a command; its help ends with what it is unless given."""
    shown = settings.get("default") not in (None, "")
    return click.option(*names, help=help, show_default=shown, **settings)


class Word(click.Choice[str]):
    """One of a few words."""

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:  # noqa: ARG002 (click's signature)
        """`text|json|csv`."""
        return "|".join(self.choices)

    def get_invalid_choice_message(self, value: object, ctx: click.Context | None) -> str:  # noqa: ARG002
        """What there is instead."""
        return _say_unknown(str(value), self.choices)


#: Days between which years can be added and taken away at will; nobody has records of others.
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2999, 12, 31)


class Day(click.ParamType[date]):
    """A day as YYYY-MM-DD, of a century that records can be of."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """The day, or a refusal that shows how one is written."""
        try:
            day = value if isinstance(value, date) else date.fromisoformat(value)
        except ValueError:
            message = f"'{value}' is no day. Write it as year-month-day, for example 2026-10-31."
            self.fail(message, param, ctx)
        if not FIRST_DAY <= day <= LAST_DAY:
            message = f"{day.isoformat()} is out of reach. Give a day from {FIRST_DAY} to {LAST_DAY}."
            self.fail(message, param, ctx)
        return day


class Number(click.IntRange):
    """A whole number within bounds."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number, or what is wrong with it in plain words."""
        try:
            number = int(value)
        except ValueError:
            self.fail("write a whole number", param, ctx)
        if self.min is not None and number < self.min:
            self.fail(f"it can't be below {self.min}", param, ctx)
        if self.max is not None and number > self.max:
            self.fail(f"it can't be above {self.max}", param, ctx)
        return number


class Percent(click.ParamType[float]):
    """A share between 0 and 1, written in per cent; `whole` allows all of it."""

    name = "percent"

    def __init__(self, *, whole: bool = False) -> None:
        self.whole = whole

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The share: 0.05 for `5 %` and for `5`."""
        try:
            # In decimals, for 0.4 % is 0.004 in writing and 0.0040000000000000001 is not.
            share = float(Decimal(value.strip().removesuffix("%").strip()) / 100)
        except ArithmeticError:  # no number, or one beyond what decimals hold
            share = -1.0
        if not 0 < share < 1 and not (self.whole and share == 1):
            message = f"'{value}' is no percentage between 0 and 100. Write it like '5 %'."
            self.fail(message, param, ctx)
        return share


class Mass(click.ParamType[float]):
    """A mass of seed in grams, written with its unit or as bare grams."""

    name = "mass"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The grams: 250 for `250`, `250 g` and `0.25 kg`; at least a milligram."""
        from certgen.records.quantities import QuantityError, parse_quantity

        text = str(value).strip()
        try:
            milligrams = parse_quantity(text if text[-1:].isalpha() else f"{text} g", "mass").si
        except QuantityError as error:
            self.fail(f"{error}.", param, ctx)
        if milligrams < 1:
            self.fail(f"'{text}' is no seed at all; give a mass like '250 g'", param, ctx)
        return milligrams / 1000


def names_option(*names: str, **settings: Any) -> Decorator:
    """An option that may be repeated or hold several names separated by commas."""
    return option(*names, multiple=True, callback=lambda _ctx, _param, given: split_list(given), **settings)


def split_list(given: Iterable[str]) -> list[str]:
    """Values that may hold several names separated by commas."""
    return [name.strip() for part in given for name in part.split(",") if name.strip()]


def format_option(*formats: str, help: str, default: str = "text") -> Decorator:  # noqa: A002 (click's word)
    """`--format`: how a result is written."""
    return option("--format", "form", type=Word(formats), default=default, help=help)


season_argument = argument(
    "season", "SEASON", "The folder with the season's records.", type=PATH, default=Path()
)
day_option = option(
    "--on", metavar="DATE", type=Day(), help="Check as of this day (2026-10-31). Default: today."
)
force_option = option(
    "--force",
    is_flag=True,
    help="Write over what is in the way; it is kept beside.",
)
lots_option = names_option(
    "--lot",
    metavar="LOT",
    help="Only this lot. Repeat it, or separate several by commas.",
    shell_complete=offer_lots,
)


READERS: Final = ("certifier", "buyer", "member", "public")


def reader_options(run: Run) -> Run:
    """`--for` and `--to`: who is to see it, which decides what is withheld."""
    named = option(
        "--to", "party", metavar="PARTY", default="", help="The buyer or member it is for, by name."
    )
    return option(
        "--for",
        "reader",
        type=Word(READERS),
        default="certifier",
        help="Who is to see it; what isn't theirs to see is withheld.",
    )(named(run))


def choose(given: Iterable[str], known: Iterable[str], option: str) -> None:
    """Refuses the first value that isn't a known one, and says which there are."""
    names = list(known)
    for value in given:
        if value not in names:
            raise click.BadParameter(_say_unknown(value, names), param_hint=option)


def _say_unknown(value: str, names: Iterable[str]) -> str:
    from certgen.records.record_files.mistakes import RENAMED

    known = list(names)
    near = get_close_matches(value, known, n=1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    if RENAMED.get(value) in known:
        hint = f" It is now called '{RENAMED[value]}'."
    listed = f" Choose one of: {', '.join(known)}." if len(known) <= 12 else ""
    listed = listed if known else " There is none at all yet."
    return f"There is no '{value}'.{hint}{listed}"


@contextmanager
def refusing(*faults: type[Exception]) -> Iterator[None]:
    """Ends the command with the words of a fault of these kinds: what was asked for can't be done."""
    try:
        yield
    except faults as fault:
        raise click.ClickException(clean(str(fault))) from fault
