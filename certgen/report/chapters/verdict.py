"""The verdict and its grounds, as the first page tells them.

What has left though it isn't traced, the findings by name, what rests on somebody's word alone, what an
earlier inspection left open. Each line leads to its page, and to its paper where there is one.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final, NamedTuple

from certgen.dossier.notices import SUSPECT, list_suspect
from certgen.dossier.visits import list_open
from certgen.report.chapters.season import grams_of, lot_bars, say_standing
from certgen.report.drawings.standing import StandingPicture, TotalPicture, draw_standing, draw_total
from certgen.report.tables import Column, grams, table
from certgen.report.wording import count_of, linked, say_thing, weigh, whole
from certgen.rules.wording import capital, day, join
from certgen.standards import StandardError, clause_of
from certgen.typeset.design import WEIGHT_MARKS
from certgen.typeset.faces import shorten
from certgen.typeset.first_page import Band
from certgen.typeset.parts import Cell, Fact, Facts, Note, Picture, Run

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.dossier.notices import Suspect
    from certgen.report.context import Context
    from certgen.rules.findings import Gap
    from certgen.typeset.parts import Part

#: Lots that aren't traced whole are named with their grounds while they are few; of more, the commonest.
_NAMED: Final = 4
_GROUNDS: Final = 5
#: Numbers of findings in one sentence.
_NUMBERS: Final = 12
#: A finding is told in two lines, a name in one: the widths are those of the columns on the narrower paper.
_SAID: Final = 560.0
_NAME: Final = 120.0
_SIZE: Final = 8.0
_HEAVY: Final = ("rejects", "unproven")


class Length(NamedTuple):
    """How many deliveries, findings and lots (as bars) the first page shows at most."""

    deliveries: int
    findings: int
    bars: int


def tell_verdict(context: Context) -> str:
    """What the records come to, in a sentence."""
    summary = context.result.summary
    lots = sum(summary.lots.values())
    said = "".join(_say_unread(context))
    if not lots:
        return f"{said}No lot has been packed yet: there is no seed to say anything of."
    parts = [(standing, count) for standing, count in summary.lots.items() if count]
    if [standing for standing, _ in parts] == ["traced"]:
        head = "The one lot is traced" if lots == 1 else f"All {whole(lots)} lots are traced"
        return f"{said}{head}: {weigh(summary.weight_mg)}, to the last gram."
    counted = join(f"{whole(count)} {'is' if count == 1 else 'are'} {standing}" for standing, count in parts)
    split = [f"{weigh(milligrams)} {word}" for word, milligrams in grams_of(summary) if milligrams]
    return f"{said}Of {count_of('lots', lots)}, {counted}: of {weigh(summary.weight_mg)}, {join(split)}."


def _say_unread(context: Context) -> Iterator[str]:
    errors = len(context.result.errors)
    if errors:
        places = "One place" if errors == 1 else f"{whole(errors)} places"
        yield f"{places} in the records could not be read, and may speak against what is said here. "


def tell_grounds(context: Context) -> tuple[Cell, ...]:
    """Why lots aren't traced whole, by the names of the rules: `L1 is rejected: bag failed`."""
    faulty = [lot for lot in context.result.lots.values() if lot.standing != "traced"]
    faulty.sort(key=lambda lot: lot.standing != "rejected")
    if len(faulty) <= _NAMED:
        told = [(lot, _grounds(context, lot.lot)) for lot in faulty]
        return tuple(
            Cell((Run(lot.lot, f"lots/{lot.lot}"), Run(f" is {lot.standing}{f': {why}' if why else ''}")),
                 mark=lot.standing)
            for lot, why in told
        )  # fmt: skip
    common: Counter[str] = Counter()
    for lot in faulty:
        common.update({gap.rule for gap in _against(context, lot.lot)})
    named = [f"{_in_words(rule)} ({count_of('lots', count)})" for rule, count in common.most_common(_GROUNDS)]
    worst = "rejected" if context.result.summary.lots.get("rejected") else "unproven"
    return (Cell((Run(f"Most often: {join(named)}"),), mark=worst),) if named else ()


def _against(context: Context, lot: str) -> list[Gap]:
    """The findings that a lot's standing rests on, heaviest first."""
    gaps = [gap for _, gap in context.gaps_of_lot(lot) if gap.weight in _HEAVY and gap.rule != SUSPECT]
    return sorted(gaps, key=lambda gap: _HEAVY.index(gap.weight))


def _grounds(context: Context, lot: str) -> str:
    rules = list(dict.fromkeys(gap.rule for gap in _against(context, lot)))
    more = f" and {whole(len(rules) - _GROUNDS)} more" if len(rules) > _GROUNDS else ""
    return ", ".join(map(_in_words, rules[:_GROUNDS])) + more


def _in_words(rule: str) -> str:
    return rule.replace("-", " ")


def build_bands(context: Context, length: tuple[int, int, int], width: float) -> tuple[Band, ...]:
    """What the first page says below the verdict, in as many lines as `length` allows."""
    shown = Length(*length)
    bands = [
        Band("", _draw_standing(context, shown.bars, width)),
        Band("Seed that is not traced and has left", _show_left(context, shown.deliveries)),
        Band("Findings", _show_findings(context, shown.findings)),
        Band("What rests on somebody’s word", _show_words(context)),
    ]
    return tuple(band for band in bands if band.parts)


def _draw_standing(context: Context, most: int, width: float) -> tuple[Part, ...]:
    """The lots as bars while they are at most so many; else all grams in one."""
    result = context.result
    lots = list(result.lots.values())
    if not lots:
        return ()
    if len(lots) <= most:
        words = "; ".join(f"{lot.lot}: {say_standing(lot)}" for lot in lots)
        title = "Each lot’s standing by gram"
        drawn = draw_standing(StandingPicture(title, words, lot_bars(lots), width))
        return (Picture("standing", drawn, f"{title}. {words}."),)
    stretches = [(word, milligrams, weigh(milligrams)) for word, milligrams in grams_of(result.summary)]
    words = ", ".join(f"{weight} {word}" for word, milligrams, weight in stretches if milligrams)
    title = "All grams by standing"
    drawn = draw_total(TotalPicture(title, words, tuple(stretches), width))
    return (Picture("standing", drawn, f"{title}. {words}."),)


def _show_left(context: Context, most: int) -> tuple[Part, ...]:
    """Who holds seed that isn't traced: how much, of which lot, on which paper."""
    suspect = list_suspect(context.result)
    if not suspect:
        return ()
    total = weigh(sum(row.weight_mg for row in suspect))
    holders = len({row.party for row in suspect})
    more = _say_more(len(suspect) - most, "delivery", "deliveries", "gaps")
    who = "holder" if holders == 1 else "holders"
    said = f"{total} in all, with {whole(holders)} {who}: each is to be told, and the certifier. "
    note = (Run(said), Run("Drafts: page ", "notices", page=True), Run("."), *more)
    return (
        table(
            "",
            (
                Column("Lot", "standing", _lot, "21%"),
                grams("Weight", lambda row: row.weight_mg, "11%"),
                Column("To", "text", lambda row: _short(row.party or "not recorded", _NAME), "27%"),
                Column("On", "text", lambda row: day(row.day), "16%"),
                Column("Paper", "text", lambda row: _paper_of(context, row), "15%"),
                Column("Finding", "text", lambda row: _page(row.number), "10%"),
            ),
            suspect[:most],
        ),
        _note(note),
    )


def _lot(row: Suspect) -> Cell:
    return Cell((Run(f"{row.lot}, {row.standing}", f"lots/{row.lot}"),), mark=row.standing)


def _paper_of(context: Context, row: Suspect) -> Cell:
    """The delivery's document, which opens the filed copy; without one it leads to the movement."""
    files = _files(context, "movements", row.movement)
    name = _short(row.document or "no document", _NAME)
    return Cell((Run(name, next(iter(files), "") or f"movements/{row.movement}"),))


def _files(context: Context, table_name: str, name: str) -> list[str]:
    """What opens the filed papers of a record, those that the document holds."""
    rows = context.rows_by(table_name, context.key_of(table_name)).get(name, [])
    named = (rows[0].get("evidence") or ()) if rows else ()
    return [opens for opens in map(context.paper, named) if opens]


def _page(number: int) -> Cell:
    return Cell((Run(f"{number}, p. ", f"gap/{number}", page=True),))


def _show_findings(context: Context, most: int) -> tuple[Part, ...]:
    """The findings by name, heaviest first: those that stand above are only counted, and so is advice."""
    gaps = list(enumerate(context.result.gaps, start=1))
    if not gaps:
        return (_note((Run("No check that certgen knows found anything."),)),)
    told = [(number, gap) for number, gap in gaps if gap.weight in _HEAVY and gap.rule != SUSPECT]
    told.sort(key=lambda pair: _HEAVY.index(pair[1].weight))
    advice = [number for number, gap in gaps if gap.weight == "advice"]
    note = [*_say_more(len(told) - most, "finding", "findings", "gaps")]
    if advice:
        lead = f"{' ' if note else ''}Advice, which changes no standing: {whole(len(advice))}"
        first = Run(", from page ", f"gap/{advice[0]}", page=True)
        note += [Run(lead), first, Run(".")]
    parts: list[Part] = []
    if told:
        parts.append(
            table(
                "",
                (
                    Column("Finding", "text", lambda row: _number(*row), "9%"),
                    Column("What was found", "text", lambda row: _say_short(row[1]), "53%"),
                    Column("Lots", "text", lambda row: Cell(linked("lots", row[1].lots, 2)), "12%"),
                    Column("Record or paper", "text", lambda row: _record(context, row[1]), "18%"),
                    Column("Page", "number", lambda row: Cell(
                        (Run("", f"gap/{row[0]}", page=True),), "number"), "8%"),
                ),
                told[:most],
            )
        )  # fmt: skip
    return (*parts, _note(tuple(note))) if note else tuple(parts)


def _number(number: int, gap: Gap) -> Cell:
    return Cell((Run(str(number), f"gap/{number}"),), mark=WEIGHT_MARKS[gap.weight])


def _say_short(gap: Gap) -> str:
    """The finding in one line that names the thing, cut to two lines where it is longer."""
    return _short((gap.headline or gap.message).replace("`", ""), _SAID)


def _short(text: str, room: float) -> str:
    return shorten(text, room, _SIZE)


def _record(context: Context, gap: Gap) -> Cell:
    """The record that a finding stands at, and what opens its papers."""
    known = gap.id in context.order.get(gap.table, {})
    name = _short(say_thing(gap), _NAME)
    runs = [Run(capital(name), f"{gap.table}/{gap.id}" if known else "")]
    for opens in _files(context, gap.table, gap.id)[:1]:
        runs += [Run(", "), Run(_short(opens.rpartition("/")[2], _NAME), opens)]
    return Cell(tuple(runs))


def _say_more(left: int, one: str, many: str, anchor: str) -> tuple[Run, ...]:
    if left <= 0:
        return ()
    return (Run(f" And {whole(left)} more {one if left == 1 else many}: page ", anchor, page=True), Run("."))


def _note(runs: tuple[Run, ...]) -> Part:
    return Note(runs)


def _show_words(context: Context) -> tuple[Part, ...]:
    """What no record shows by itself: the routine, the operation's own figures, clauses from memory, and what
    an earlier inspection left open."""
    facts = [
        Fact(label, runs, mark)
        for label, runs, mark in (
            ("Routine", _say_routine(context), ""),
            ("Own figures", _say_own_figures(context), "advice"),
            ("From memory", _say_memory(context), ""),
            ("Earlier inspection", _say_open(context), "advice"),
        )
        if runs
    ]
    return (Facts(tuple(facts)),) if facts else ()


def _say_routine(context: Context) -> tuple[Run, ...]:
    """The operation's statement of its routine, and how many of the lots rest on it."""
    routine = context.season.details.raw.get("routine")
    result = context.result
    lots = [lot for lot in result.lots if any(one.by.get("routine") for one in result.proof(lot))]
    if not isinstance(routine, dict) or not lots:
        return ()
    held = {name: value for name, value in routine.items() if name not in {"stated_by", "date", "note"}}
    said = "; ".join(f"{name.replace('_', ' ')} {value}" for name, value in held.items())
    by = " on ".join(str(routine[name]) for name in ("stated_by", "date") if routine.get(name))
    who = f" ({by})" if by else ""
    return (
        Run(
            f"{count_of('lots', len(lots))} of {whole(len(result.lots))} rest in part on the operation’s own"
            f" statement{who}: {_short(said, _SAID)}."
        ),
    )


def _say_own_figures(context: Context) -> tuple[Run, ...]:
    for number, gap in enumerate(context.result.gaps, start=1):
        if gap.rule == "own-figure-loosens":
            return (
                Run("The operation’s own figures let findings pass: finding "),
                Run(f"{number}, page ", f"gap/{number}", page=True),
                Run("."),
            )
    return ()


def _say_memory(context: Context) -> tuple[Run, ...]:
    """The findings that rest on a clause whose text was not read in full."""
    numbers = [
        number
        for number, gap in enumerate(context.result.gaps, start=1)
        if gap.weight in _HEAVY and any(_is_unread(context, clause) for clause in gap.clauses)
    ]
    if not numbers:
        return ()
    which = "Finding" if len(numbers) == 1 else "Findings"
    some = linked("gap", map(str, numbers), _NUMBERS)
    cite = "cites" if len(numbers) == 1 else "cite"
    return (
        Run(f"{which} "), *some,
        Run(f" {cite} a clause from memory or read in part; it says so where it stands."),
    )  # fmt: skip


def _is_unread(context: Context, clause: str) -> bool:
    if clause.startswith("practice:"):
        return False
    try:
        found = clause_of(clause, context.profile)
    except StandardError:
        return False
    return found.mark != "read"


def _say_open(context: Context) -> tuple[Run, ...]:
    """What of earlier years' inspections is open."""
    earlier = [one for one in list_open(context.result.case) if one.earlier]
    if not earlier:
        return ()
    first = earlier[0]
    what = "One thing is" if len(earlier) == 1 else f"{whole(len(earlier))} things are"
    return (
        Run(f"{what} open, {'' if len(earlier) == 1 else 'first '}of visit {first.visit.visit}: "),
        Run(_short(f"{first.kind} {first.number}, {first.says}", _SAID)),
        Run("; page ", "inspections", page=True),
        Run("."),
    )
