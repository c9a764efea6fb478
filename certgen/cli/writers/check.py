"""The check as a grower reads it: what is wrong, where, what mends it, and what to do first."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from certgen.cli.terminal import COLOURS, Terminal, clean
from certgen.dossier.custody import say_standing, tell_custody
from certgen.dossier.mending import say_unweighed
from certgen.dossier.notices import SUSPECT
from certgen.records.quantities import format_mass
from certgen.rules import CRASHED, RULES, WEIGHTS
from certgen.rules.wording import capital, count, day, join, noun

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.dossier.search import Selection
    from certgen.lineage import Mend
    from certgen.records import Place
    from certgen.rules import Gap

_HEADINGS: Final = {
    "rejects": "What speaks against the claim",
    "unproven": "What is missing",
    "advice": "Advice",
}
#: What is said of a season that can't be judged, so that it isn't taken for one that is clean.
_NO_RECORD: Final = (
    "There are no records yet, so nothing is shown: begin with the land, fill in `blocks`, then `plantings` "
    "and `trees`, and check again."
)
_NO_LOT: Final = "There is no lot yet, so nothing is claimed, and nothing is shown to be traced."
#: So many other places of one gap are listed unless all are asked for.
_OTHERS: Final = 4


def write_text(selection: Selection, *, everything: bool = False, terminal: Terminal | None = None) -> None:
    """Writes the check to the terminal."""
    _Text(selection, terminal or Terminal(), everything).write()


class _Text:
    def __init__(self, selection: Selection, out: Terminal, everything: bool) -> None:
        self.selection, self.result, self.out, self.everything = selection, selection.result, out, everything
        # A gap may stand at thousands of places, of which a few are named.
        self.where = self.result.locate(
            place for gap in selection.gaps for place in (gap.place, *self._listed(gap))
        )

    def _listed(self, gap: Gap) -> Sequence[Place]:
        """The other places of a gap that are named."""
        return gap.others if self.everything else gap.others[:_OTHERS]

    def write(self) -> None:
        self._write_head()
        self._write_suspect()
        for weight in WEIGHTS:
            self._write_weight(weight)
        self._write_lots()
        self._write_mending()
        self.out.line()
        self.out.text(self._verdict(), 0, "bold")

    def _write_head(self) -> None:
        self.out.season(self.result)
        read = count(sum(self.result.season.counts.values()), "record")
        left_out = len(self.result.season.left_out)
        they = "it" if left_out == 1 else "they"
        without = f", {left_out} left out because {they} couldn't be read" if left_out else ""
        self.out.line(f"{read} read{without}. Checked as of {day(self.result.on)}.")
        if self.result.errors:
            self.out.heading(f"What couldn't be read ({len(self.result.errors)})", "red")
            for error in self.result.errors:
                self.out.text(error.text(), 2)

    def _write_weight(self, weight: str) -> None:
        by_rule: dict[str, list[Gap]] = {}
        for gap in self.selection.gaps:
            if gap.weight == weight and gap.rule != SUSPECT:
                by_rule.setdefault(gap.rule, []).append(gap)
        if by_rule:
            self.out.heading(f"{_HEADINGS[weight]} ({sum(map(len, by_rule.values()))})", COLOURS[weight])
        for rule in (*RULES, CRASHED):
            if rule in by_rule:
                self._write_rule(rule, by_rule[rule])

    def _write_rule(self, rule: str, gaps: list[Gap]) -> None:
        """The gaps of one rule; a remedy that serves them all stands once, below them."""
        remedies = list(dict.fromkeys(gap.remedy for gap in gaps))
        self.out.line()
        if rule in RULES:
            self.out.text(f"{RULES[rule].title} [{rule}]", 2)
        for gap in gaps:
            self._write_gap(gap)
            if len(remedies) > 1:
                self.out.text(f"To mend it: {gap.remedy}", 6)
        if len(remedies) == 1:
            self.out.text(f"To mend {'it' if len(gaps) == 1 else 'them'}: {remedies[0]}", 4)

    def _write_suspect(self) -> None:
        """Seed that isn't traced and has left stands before everything else."""
        suspect = self.selection.suspect
        if not suspect:
            return
        self.out.heading(f"Seed that is not traced and has left ({len(suspect)})", COLOURS["rejects"])
        for delivery in suspect:
            self._write_message(self.result.gap(delivery.number))
        self.out.text(f"What to do: {RULES[SUSPECT].remedy} [{SUSPECT}]", 4)

    def _write_message(self, gap: Gap) -> None:
        self.out.line(f"    {self.out.paint(self._place(gap.place), 'cyan')}")
        self.out.text(gap.message, 6)

    def _write_gap(self, gap: Gap) -> None:
        self._write_message(gap)
        if gap.others:
            listed = self._listed(gap)
            hidden = len(gap.others) - len(listed)
            more = f" and {hidden} more (--all lists them)" if hidden else ""
            self.out.text(f"Also at {', '.join(self._place(place) for place in listed)}{more}.", 6)
        if gap.lots:
            self.out.text(f"Affects {_name_lots(gap.lots, self.selection.most_lots)}.", 6)
        if gap.explanation:
            answer = gap.explanation
            self.out.text(f"Explained by {answer.by} on {day(answer.date)}: {answer.reason}", 6)

    def _place(self, place: Place) -> str:
        line = self.where.get(place)
        return clean(f"{place.file}:{line[0]}:{line[1]}" if line else place.file)

    def _write_lots(self) -> None:
        if self.selection.lots:
            self.out.heading("The lots")
        for lot in self.selection.lots:
            split = say_standing(lot)
            parts = f": {split}" if split else ""
            name = self.out.paint(clean(lot.lot), "bold")
            self.out.line(f"  {name}  {lot.standing}  {format_mass(lot.weight_mg)}{parts}")
            self.out.text(f"{capital(tell_custody(self.result, lot.lot).text())}.", 6)

    def _write_mending(self) -> None:
        if self.selection.mend or self.result.unweighed:
            self.out.heading("What to do first")
        for number, mend in enumerate(self.selection.mend, start=1):
            self.out.text(f"{number}. {_say_mend(mend, self.selection.most_mended)}", 2)
        if self.result.unweighed:
            self.out.text(say_unweighed(self.result), 2)

    def _verdict(self) -> str:
        gaps, unread = self.selection.gaps, len(self.result.errors)
        if self.result.crashed:
            rules = join(crash.rule for crash in self.result.crashed)
            return f"certgen itself failed at {rules}: what those checks look for is not known."
        claimed = "" if self.result.lots else f" {_NO_LOT}"
        if not any(self.result.season.counts.values()):
            claimed = f" {_NO_RECORD}"
        if not gaps:
            found = "No gaps found." if not unread else "No gaps found in what could be read."
            return f"{found}{claimed}"
        which = "One place" if unread == 1 else f"{unread} places"
        warning = f"{which} couldn't be read, and may speak against what is said here. " if unread else ""
        return f"{warning}{_sum_up(gaps)}{claimed}"


def _sum_up(gaps: Sequence[Gap]) -> str:
    """How many gaps there are at how many places, and how many of each weight."""
    places = sum(1 + len(gap.others) for gap in gaps)
    where = f" at {places} places" if places > len(gaps) else ""
    return f"{count(len(gaps), 'gap')}{where}: {count_gaps(Counter(gap.weight for gap in gaps))}."


def count_gaps(numbers: Mapping[str, int]) -> str:
    """How many gaps of each weight there are, in the words of the check's headings; 'none' if none."""
    words = {
        "rejects": "against the claim",
        "unproven": "missing",
        "advice": "advice",
    }
    return join(f"{numbers[weight]} {words[weight]}" for weight in WEIGHTS if numbers.get(weight)) or "none"


def _name_lots(lots: Sequence[str], most: int | None) -> str:
    cut = most is not None and len(lots) > most
    told = [*lots[:most], f"{len(lots[most:])} more"] if cut else lots
    return f"{noun('lots', len(lots))} {join(told)}"


def _say_mend(mend: Mend, most: int | None) -> str:
    what = f"{'Supply' if mend.action == 'supply' else 'Take out'} {mend.text}"
    if mend.action == "supply" or mend.proves_mg:
        return f"{what}: proves {format_mass(mend.proves_mg)} in {_name_lots(mend.lots, most)}."
    return f"{what}: proves nothing more, and frees the {format_mass(mend.frees_mg)} that are left."
