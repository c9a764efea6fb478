"""The check as a grower reads it: what is wrong, where, what mends it, and what to do first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.cli.terminal import COLOURS, Terminal, clean
from certgen.dossier.custody import say_standing, tell_custody
from certgen.dossier.notices import SUSPECT, list_suspect
from certgen.records.quantities import format_mass
from certgen.rules import CRASHED, RULES, WEIGHTS
from certgen.rules.wording import capital, day, join

if TYPE_CHECKING:
    from collections.abc import Mapping

    from certgen.cli.findings import Shown
    from certgen.lineage import Mend
    from certgen.records import Place
    from certgen.rules import Gap

_HEADINGS: Final = {
    "rejects": "What speaks against the claim",
    "unproven": "What is missing",
    "advice": "Advice",
}
#: So many other places of one gap are listed unless all are asked for.
_OTHERS: Final = 4


def write_text(shown: Shown, *, everything: bool = False, terminal: Terminal | None = None) -> None:
    """Writes the check to the terminal."""
    out = terminal or Terminal()
    _Text(shown, out, everything).write()


class _Text:
    def __init__(self, shown: Shown, out: Terminal, everything: bool) -> None:
        self.shown, self.out, self.everything = shown, out, everything
        # A gap may stand at thousands of places, of which a few are told.
        self.where = shown.result.locate(
            place
            for gap in shown.gaps
            for place in (gap.place, *(gap.others if everything else gap.others[:_OTHERS]))
        )

    def write(self) -> None:
        result = self.shown.result
        details = result.season.details
        self.out.line(self.out.paint(clean(f"{details.operation.name}, season {details.label}"), "bold"))
        read = sum(result.season.counts.values())
        left_out = len(result.season.left_out)
        left = (
            f", {left_out} left out because {'it' if left_out == 1 else 'they'} couldn't be read"
            if left_out
            else ""
        )
        self.out.line(
            f"{read} {'record' if read == 1 else 'records'} read{left}. Checked as of {day(result.on)}."
        )
        if result.errors:
            self.out.heading(f"What couldn't be read ({len(result.errors)})", "red")
            for error in result.errors:
                self.out.text(error.text(), 2)
        self._write_suspect()
        for weight in WEIGHTS:
            self._write_weight(weight)
        self._write_lots()
        self._write_mending()
        self.out.line()
        self.out.text(self._verdict(), 0, "bold")

    def _write_weight(self, weight: str) -> None:
        gaps = [gap for gap in self.shown.gaps if gap.weight == weight and gap.rule != SUSPECT]
        if not gaps:
            return
        self.out.heading(f"{_HEADINGS[weight]} ({len(gaps)})", COLOURS[weight])
        for slug in [slug for slug in (*RULES, CRASHED) if any(gap.rule == slug for gap in gaps)]:
            same = [gap for gap in gaps if gap.rule == slug]
            remedies = list(dict.fromkeys(gap.remedy for gap in same))
            self.out.line()
            if slug in RULES:
                self.out.text(f"{RULES[slug].title} [{slug}]", 2)
            for gap in same:
                self._write_gap(gap)
                if len(remedies) > 1:
                    self.out.text(f"To mend it: {gap.remedy}", 6)
            if len(remedies) == 1:
                self.out.text(f"To mend {'it' if len(same) == 1 else 'them'}: {remedies[0]}", 4)

    def _write_suspect(self) -> None:
        """Seed that isn't traced and has left stands before everything else."""
        numbers = set(self.shown.numbers)
        suspect = [one for one in list_suspect(self.shown.result) if one.number in numbers]
        if not suspect:
            return
        self.out.heading(f"Seed that is not traced and has left ({len(suspect)})", COLOURS["rejects"])
        for one in suspect:
            gap = self.shown.result.gap(one.number)
            self.out.line(f"    {self.out.paint(self._place(gap.place), 'cyan')}")
            self.out.text(gap.message, 6)
        remedy = RULES[SUSPECT].remedy
        self.out.text(f"What to do: {remedy} [{SUSPECT}]", 4)

    def _write_gap(self, gap: Gap) -> None:
        self.out.line(f"    {self.out.paint(self._place(gap.place), 'cyan')}")
        self.out.text(gap.message, 6)
        if gap.others:
            listed = gap.others if self.everything else gap.others[:_OTHERS]
            hidden = len(gap.others) - len(listed)
            more = f" and {hidden} more (--all lists them)" if hidden else ""
            self.out.text(f"Also at {', '.join(self._place(place) for place in listed)}{more}.", 6)
        if gap.lots:
            self.out.text(f"Reaches {'lot' if len(gap.lots) == 1 else 'lots'} {join(gap.lots)}.", 6)
        if gap.explanation:
            told = gap.explanation
            self.out.text(f"Explained by {told.by} on {day(told.date)}: {told.reason}", 6)

    def _place(self, place: Place) -> str:
        line = self.where.get(place)
        return clean(f"{place.file}:{line[0]}:{line[1]}" if line else place.file)

    def _write_lots(self) -> None:
        if self.shown.lots:
            self.out.heading("The lots")
            for lot in self.shown.lots:
                split = say_standing(lot)
                self.out.line(
                    f"  {self.out.paint(clean(lot.lot), 'bold')}  {lot.standing}  "
                    f"{format_mass(lot.weight_mg)}"
                    f"{f': {split}' if split else ''}"
                )
                self.out.text(f"{capital(tell_custody(self.shown.result, lot.lot).text())}.", 6)

    def _write_mending(self) -> None:
        if self.shown.mend:
            self.out.heading("The shortest way to clean")
            for number, mend in enumerate(self.shown.mend, start=1):
                self.out.text(f"{number}. {_tell(mend)}", 2)

    def _verdict(self) -> str:
        gaps = self.shown.gaps
        if self.shown.result.crashed:
            slugs = join(crash.rule for crash in self.shown.result.crashed)
            return f"certgen itself failed at {slugs}: what those checks look for is not known."
        if not gaps and not any(self.shown.result.season.counts.values()):
            return "There are no records yet, so there is nothing to check. Fill in the files of the folder."
        unread = len(self.shown.result.errors)
        if not gaps:
            return "No gaps found." if not unread else "No gaps found in what could be read."
        numbers = [(sum(gap.weight == weight for gap in gaps), weight) for weight in WEIGHTS]
        told = count_gaps({weight: number for number, weight in numbers})
        places = sum(1 + len(gap.others) for gap in gaps)
        where = f" at {places} places" if places > len(gaps) else ""
        which = "One place" if unread == 1 else f"{unread} places"
        warning = f"{which} couldn't be read, and may speak against what is said here. " if unread else ""
        return f"{warning}{len(gaps)} {'gap' if len(gaps) == 1 else 'gaps'}{where}: {told}."


def count_gaps(numbers: Mapping[str, int]) -> str:
    """How many gaps of each weight there are, in the words of the check's headings; 'none' if none."""
    words = {
        "rejects": "against the claim",
        "unproven": "missing",
        "advice": "advice",
    }
    return join(f"{numbers[weight]} {words[weight]}" for weight in WEIGHTS if numbers.get(weight)) or "none"


def _tell(mend: Mend) -> str:
    lots = f"{'lot' if len(mend.lots) == 1 else 'lots'} {join(mend.lots)}"
    if mend.action == "supply":
        return f"Supply {mend.text}: proves {format_mass(mend.proves_mg)} in {lots}."
    if mend.proves_mg:
        return f"Take out {mend.text}: proves {format_mass(mend.proves_mg)} in {lots}."
    left = format_mass(mend.frees_mg)
    return f"Take out {mend.text}: proves nothing more, and frees the {left} that are left."
