"""Which records are meant where a paper is named to many: by table and names, by ranges, by a report.

What is said of a letter that has a record of its own holds of its samples, so that a paper of all of them is
the letter's.
"""

from __future__ import annotations

import re
from collections import Counter
from difflib import get_close_matches
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.records.joining.ranges import NameRanges
from certgen.records.joining.rounds import RoundMembers
from certgen.records.nouns import count, noun
from certgen.records.rows import plain_record, plain_values
from certgen.records.tables import load_tables
from certgen.rules.wording import join

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from certgen.records import Season

#: By this word results are chosen that name one report, whether it has a record among the letters or not.
REPORT: Final = "report"
#: The mapping that tells of the season itself takes papers too.
SEASON: Final = "season"
#: What people write where a name has a plain hyphen.
_DASHES: Final = str.maketrans(dict.fromkeys("‐‑‒–—−", "-"))
#: More names than these are not listed one by one.
_LISTED: Final = 5


class EvidenceError(ValueError):
    """Evidence that cannot be added; the message says why and what to do."""


class Chosen(NamedTuple):
    """A record that a paper is to be named to; `row` is None for the season itself."""

    table: str
    identifier: str
    row: int | None


def expand_names(known: Iterable[str], typed: str) -> tuple[list[str], list[str]]:
    """The names that a list of names and ranges means, each once, and its parts that mean none.

    Names are separated by commas, semicolons or line ends; a range is `S26-001..S26-019` or
    `S26-001 to S26-019`.
    """
    ranges = NameRanges(known)
    found: dict[str, None] = {}
    unknown = []
    for entry in _split(typed):
        names = ranges.expand(entry)
        found.update(dict.fromkeys(names))
        if not names:
            unknown.append(entry)
    return list(found), unknown


def choose_records(season: Season, typed: Sequence[str]) -> tuple[list[Chosen], list[str]]:
    """The records that `TABLE:NAMES` mean, each once, and what there is to say of the choice.

    Raises `EvidenceError` for a table or name that there isn't.
    """
    chosen: dict[Chosen, None] = {}
    notes: list[str] = []
    for entry in typed:
        table, colon, names = entry.partition(":")
        table = table.strip()
        if table == SEASON and not names.strip():
            chosen[Chosen(SEASON, season.details.label, None)] = None
        elif not colon or not names.strip():
            raise EvidenceError(
                f"'{entry}' doesn't say which records: write a table and their names, as in "
                "--to screening:S26-017, --to screening:S26-001..S26-019 or --to report:DN-26-014"
            )
        elif table == REPORT:
            for name in names.split(","):
                chosen.update(dict.fromkeys(_choose_report(season, name.strip())))
        else:
            chosen.update(dict.fromkeys(_choose_named(season, table, names)))
    return _rest_on_letters(season, list(chosen), notes), notes


def _choose_named(season: Season, table: str, names: str) -> Iterator[Chosen]:
    declared = load_tables().get(table)
    if declared is None or not declared.key:
        raise EvidenceError(f"there is no table '{table}'{_hint(table, load_tables())}")
    known = [name for name in plain_values(season.tables[table][declared.key]) if name]
    found, unknown = expand_names(known, names)
    # A range may end where nothing is, and then as well have been meant to end elsewhere.
    unknown += [end for end in _list_ends(known, names) if end not in known and not unknown]
    if unknown:
        hints = "".join(_hint(one, known) for one in unknown[:1])
        raise EvidenceError(f"no {noun(table)} is called {join(unknown[:_LISTED], 'or')}{hints}")
    twice = Counter(known)
    for name in found:
        if twice[name] > 1:
            raise EvidenceError(
                f"{twice[name]} records of `{table}` are called {name}; give each a number of its own first"
            )
        yield Chosen(table, name, season.row(table, name))


def _list_ends(known: Sequence[str], typed: str) -> Iterator[str]:
    """The first and the last name of each range of a list."""
    for part in _split(typed):
        ends = re.split(r"\.\.|\s+to\s+", part)
        if part not in known and len(ends) == 2:
            yield from (end.strip() for end in ends)


def _split(typed: str) -> list[str]:
    return [part.strip() for part in re.split(r"[,;\n]", typed) if part.strip()]


def _hint(name: str, known: Iterable[str]) -> str:
    names = list(known)
    plain = name.translate(_DASHES)
    if plain != name and (plain in names or NameRanges(names).expand(plain)):
        return f"; its dash is a long one: write {plain}"
    near = get_close_matches(plain, names, n=1)
    return f" (did you mean {near[0]}?)" if near else ""


def _choose_report(season: Season, name: str) -> list[Chosen]:
    """The letter of a report's number, or else the samples that name it."""
    letters = _of_report(season, "letters", name, "letter", "report")
    samples = _of_report(season, "screening", name, "report")
    laboratories = plain_values(season.table("screening")["laboratory"])
    whose = {laboratories[one.row] or "no laboratory named" for one in samples if one.row is not None}
    if len(letters) > 1 or (not letters and len(whose) > 1):
        from_ = join(sorted(whose)) if whose else "letters"
        raise EvidenceError(
            f"{name} is the number of several reports ({from_}); name the samples, as in "
            f"--to screening:{samples[0].identifier if samples else 'S26-017'}"
        )
    if not letters and not samples:
        reports = plain_values(season.table("screening")["report"].dropna())
        raise EvidenceError(f"no letter and no result names a report {name}{_hint(name, reports)}")
    return letters or samples


def _of_report(season: Season, table: str, name: str, *columns: str) -> list[Chosen]:
    """The records of a table that bear a report's number in one of these columns."""
    frame = season.table(table)
    rows = frame.index[frame[list(columns)].isin([name]).any(axis=1)].tolist()
    names = plain_values(frame[load_tables()[table].key])
    return [Chosen(table, names[row], row) for row in rows]


def letter_samples(season: Season) -> dict[str, tuple[str, ...]]:
    """The samples that each letter speaks of: those that it lists, else those that name it."""
    members = RoundMembers(season)
    frame, samples = season.table("letters"), plain_values(season.table("screening")["sample"])
    found = {}
    for row in range(len(frame)):
        entry = plain_record(frame, row)
        rows = members.named("screening", entry).tolist() if entry["samples"] else []
        rows = rows or _quoting(season, {entry["letter"], entry["report"] or entry["letter"]})
        for exception in entry["exceptions"]:
            rows += members.named("screening", exception).tolist()
        found[str(entry["letter"])] = tuple(samples[at] for at in dict.fromkeys(rows))
    return found


def _quoting(season: Season, names: set[str]) -> list[int]:
    """The rows of the samples that name a report by one of these numbers."""
    reports = season.table("screening")["report"]
    rows: list[int] = reports.index[reports.isin(list(names))].tolist()
    return rows


def _rest_on_letters(season: Season, chosen: list[Chosen], notes: list[str]) -> list[Chosen]:
    """The choice with a letter in place of all its samples, and the notes that say so."""
    if not {one.table for one in chosen} & {"letters", "screening"}:
        return chosen
    for letter, samples in letter_samples(season).items():
        whole = Chosen("letters", letter, season.row("letters", letter))
        mine = _all_chosen(season, samples)
        if not mine or not (whole in chosen or (len(mine) > 1 and set(mine) <= set(chosen))):
            continue
        apart = [one for one in mine if _names_papers(season, one)]
        notes += _tell_letter(letter, len(mine), apart, asked=whole in chosen)
        chosen = list(dict.fromkeys([*(one for one in chosen if one not in mine), whole, *apart]))
    return chosen


def _all_chosen(season: Season, samples: Iterable[str]) -> list[Chosen]:
    return [Chosen("screening", name, season.row("screening", name)) for name in samples]


def _tell_letter(letter: str, samples: int, apart: Sequence[Chosen], *, asked: bool) -> Iterator[str]:
    if asked:
        yield f"Letter {letter} speaks of {count(samples, 'sample')}; they have it through the letter."
    else:
        yield (
            f"These {samples} samples are all that letter {letter} speaks of: the paper is named there, "
            "once, and they have it through the letter."
        )
    if apart:
        names = join(one.identifier for one in apart)
        yield f"{names} of them {'names' if len(apart) == 1 else 'name'} papers apart, so there too."


def _names_papers(season: Season, one: Chosen) -> bool:
    """Whether a record names papers itself; they stand in place of what its letter names."""
    return one.row is not None and bool(season.record_at(one.table, one.row).get("evidence"))


def papers_through_letters(season: Season) -> dict[str, tuple[str, ...]]:
    """The papers that each sample has through letters, while it names none itself."""
    found: dict[str, tuple[str, ...]] = {}
    for letter, samples in letter_samples(season).items():
        papers = tuple((season.record("letters", letter) or {}).get("evidence", ()))
        for sample in samples:
            found[sample] = tuple(dict.fromkeys((*found.get(sample, ()), *papers)))
    return found
