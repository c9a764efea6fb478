"""The co-op as its office reads it on a terminal: who is ready, what disagrees, what to chase first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from certgen.cli.terminal import Terminal, clean
from certgen.cli.writers.check import count_gaps
from certgen.coop.between.kinds import KINDS, WEIGHTS
from certgen.coop.between.visits import (
    MISS_BASIS,
    NOT_CERTIFICATION,
    OWN_INSPECTIONS,
    say_order,
    say_visits,
)
from certgen.coop.papers.control_records import list_duties, list_open
from certgen.coop.papers.handing_in import tell_handing_in
from certgen.coop.skeleton import HANDED
from certgen.dossier.spot_check import say_chance
from certgen.figures.draws import plain_text, write_fingerprint
from certgen.records.quantities import format_mass
from certgen.rules.wording import count, day, join

if TYPE_CHECKING:
    from collections.abc import Sequence

    from certgen.coop.between.result import CoopResult, MemberView
    from certgen.coop.members.member_list import Looked
    from certgen.coop.papers.handing_in import HandingIn

_ANSWER: Final = (
    "Once somebody looked into one, write it into coop.yaml under looked_at: its code as `question`, who "
    "(`by`), the `date`, and what was `found`. It is then listed as looked at; that lifts nothing else."
)
#: Of long lists so many are shown unless everything is asked for.
_SHOWN: Final = 12
_COLOURS: Final = {
    "ready": "green",
    "evidence missing": "yellow",
    "against the claim": "red",
    "not read": "red",
}
_HEADINGS: Final = {
    "rejects": ("What speaks against seed that members had from members", "red"),
    "unproven": ("What disagrees between members", "yellow"),
    "control": ("What the co-op’s own control has open", "yellow"),
    "question": ("Questions to ask", "cyan"),
}


def write_text(result: CoopResult, *, everything: bool = False, terminal: Terminal | None = None) -> None:
    """Writes the co-op's result to the terminal."""
    _Text(result, terminal or Terminal(), everything).write()


class _Text:
    def __init__(self, result: CoopResult, out: Terminal, everything: bool) -> None:
        self.result, self.out, self.everything = result, out, everything

    def write(self) -> None:
        result, out = self.result, self.out
        out.line(out.paint(clean(result.coop.name), "bold"))
        records = sum(result.totals.records.values())
        known = len(result.members) - result.examined
        before = f", {known} of them known from before" if known else ""
        out.text(
            f"{count(len(result.members), 'member')}{before}; {records} records read. Checked as of"
            f" {day(result.on)}."
        )
        self._write_members()
        self._write_varieties()
        self._write_stages()
        for weight in WEIGHTS:
            self._write_disagreements(weight)
        self._write_looked()
        self._write_open()
        self._write_sending()
        self._write_chase()
        self._write_group()
        out.line()
        out.text(self._verdict(), 0, "bold")

    def _cut(self, listed: Sequence[object]) -> int:
        return len(listed) if self.everything else _SHOWN

    def _more(self, listed: Sequence[object]) -> None:
        hidden = len(listed) - self._cut(listed)
        if hidden > 0:
            self.out.text(f"and {hidden} more (--all lists them)", 2, "dim")

    def _write_members(self) -> None:
        self.out.heading("The members")
        views = self.result.members
        # Whoever is ready needs no line where lines are short.
        order = sorted(views, key=lambda view: view.readiness == "ready")
        shown = order[: self._cut(order)]
        self.out.table(
            (
                view.member.key,
                view.readiness,
                format_mass(view.standing.whole_mg),
                _tell_member(self.result, view),
            )
            for view in shown
        )
        self._more(order)
        for view in shown:
            for error in view.summary.errors[:3]:
                self.out.text(f"{view.member.key}: {error}", 4, _COLOURS[view.readiness])

    def _write_varieties(self) -> None:
        if self.result.varieties:
            self.out.heading("Seed by variety")
            self.out.table(
                (
                    name or "no variety written",
                    standing.standing,
                    format_mass(standing.whole_mg),
                    # How its grams divide, if they do.
                    join(phrases) if len(phrases := standing.phrases()) > 1 else "",
                )
                for name, standing in self.result.varieties.items()
            )

    def _write_stages(self) -> None:
        stages = self.result.stages
        if stages:
            self.out.heading("Gaps by stage of the job")
            self.out.table((stage.replace("_", " "), count_gaps(counts)) for stage, counts in stages.items())

    def _write_disagreements(self, weight: str) -> None:
        result = self.result
        found = [one for one in result.disagreements if one.weight == weight and not result.is_settled(one)]
        if not found:
            return
        heading, colour = _HEADINGS[weight]
        self.out.heading(f"{heading} ({len(found)})", colour)
        for kind, what in KINDS.items():
            same = [one for one in found if one.kind == kind]
            if same:
                self.out.line()
                self.out.text(f"{what.title} [{kind}]", 2)
                for one in same[: self._cut(same)]:
                    self.out.text(f"{one.message} ({one.code})" if weight == "question" else one.message, 6)
                    looked = result.looked.get(one.code)
                    if looked is not None:
                        self.out.text(f"{_say_look(looked)}; that lifts nothing.", 8, "dim")
                self._more(same)
                self.out.text(f"What helps: {what.remedy}", 4)

    def _write_looked(self) -> None:
        """Questions that the office answered, and answers to what nobody asks."""
        result = self.result
        asked = [one for one in result.disagreements if one.weight == "question"]
        settled = [one for one in asked if result.is_settled(one)]
        if len(asked) > len(settled):
            self.out.line()
            self.out.text(_ANSWER, 2, "dim")
        codes = {one.code for one in result.disagreements}
        idle = [one.question for one in result.coop.looked_at if one.question not in codes]
        if settled:
            self.out.heading(f"Looked at, in order ({len(settled)})", "green")
            for one in settled[: self._cut(settled)]:
                self.out.text(f"{one.message} {_say_look(result.looked[one.code])}.", 2)
            self._more(settled)
        if idle:
            self.out.text(f"coop.yaml answers {join(idle[:_SHOWN])}, which isn’t asked today.", 2, "dim")

    def _write_open(self) -> None:
        asked = list(list_open(self.result))
        if asked:
            self.out.heading("Asked or found, and not yet due")
            for member, _, _, message, remedy in asked[: self._cut(asked)]:
                self.out.text(f"{member}: {message} {remedy}", 2)
            self._more(asked)

    def _write_sending(self) -> None:
        """What each member has to send; how, and what it types, stands in its letter."""
        told = [(view.member.key, tell_handing_in(self.result, view)) for view in self.result.members]
        rows = [(key, _tell_sending(one)) for key, one in told if one is not None]
        if rows:
            self.out.heading("What to send, and by when (--letters tells each member how)")
            self.out.table(rows[: self._cut(rows)])
            self._more(rows)

    def _write_chase(self) -> None:
        chase = self.result.chase
        if chase:
            self.out.heading("What to chase first")
            for number, one in enumerate(chase[: self._cut(chase)], start=1):
                self.out.text(f"{number}. {_name(one.members)}: {one.sentence}", 2)
            self._more(chase)

    def _write_group(self) -> None:
        self.out.heading("Whom to visit")
        sample, out = self.result.sample, self.out
        drawn = sample.visits
        out.table(
            (one.member, f"{one.why}, {one.points}", say_visits(one)) for one in drawn[: self._cut(drawn)]
        )
        self._more(drawn)
        out.text(
            f"{sample.basis}. {OWN_INSPECTIONS} Members at high risk are all visited; the others are drawn "
            f"by their points of risk, then up to {sample.each} lots of each; anyone can draw them again.",
            2,
            "dim",
        )
        out.text(f"Text “{sample.key.text}”, hashed as {plain_text(sample.key.text)}. Fingerprint:", 2)
        for line in write_fingerprint(sample.key.fingerprint):
            out.line(f"    {line}")
        out.text(say_order(sample), 2, "" if sample.key.noted else "yellow")
        out.text("Bags and trees are drawn at each member’s, with certgen sample.", 2)
        out.heading("What these visits can miss")
        for what, chance in sample.misses:
            out.line(
                f"  {what[:1].upper()}{what[1:]}: missed with a chance of {say_chance(chance)} at worst."
            )
        out.text(MISS_BASIS, 2, "dim")
        self.out.heading("What the rulebooks ask of a group")
        for one in self.result.figures:
            here = f": {one.here}" if one.here else ""
            mark = f" ({one.clause}, {one.mark})"
            self.out.text(f"{one.title}: {one.value}{here}{mark}. {one.note}".rstrip(), 2)
        self.out.text(NOT_CERTIFICATION, 2)
        duties = list(list_duties(self.result))
        if duties:
            self.out.heading("What a group does besides, and certgen doesn’t see")
            for clause, mark, what in duties:
                self.out.text(f"{what} ({clause}, {mark})", 2)

    def _verdict(self) -> str:
        told = join(f"{count} {word}" for word, count in self.result.readiness.items() if count)
        return clean(f"Members: {told}. {self.result.agreement}")


def _name(keys: Sequence[str]) -> str:
    return join(keys if len(keys) <= 6 else [*keys[:5], f"{len(keys) - 5} more"])


def _say_look(looked: Looked) -> str:
    return f"Looked at by {looked.by} on {day(looked.date)}: {looked.found}"


def _tell_member(result: CoopResult, view: MemberView) -> str:
    parts = [f"season {view.summary.stated.label}"] if view.summary.stated.label else []
    parts += [count_gaps(view.open_counts)] if any(view.open_counts.values()) else []
    if view.answered:
        parts.append(f"{len(view.answered)} answered by other members")
    if view.summary.state == "read" and view.summary.error_count:
        parts.append(f"{view.summary.error_count} reading errors")
    asked = sum(result.disagreements[at].weight == "question" for at in view.disagreements)
    if len(view.disagreements) > asked:
        parts.append(count(len(view.disagreements) - asked, "disagreement"))
    if asked:
        parts.append(count(asked, "question"))
    return "; ".join(parts)


def _tell_sending(one: HandingIn) -> str:
    """By when, which papers, and as what."""
    parts = [f"{count(one.absent_count, 'paper')} named and not there"] if one.absent_count else []
    parts += [f"{kind.title.lower()} ({kind.lacking})" for kind in one.papers]
    by = f"by {day(one.by)}: " if one.by is not None else ""
    return f"{by}{join([*parts, 'its records once more'])}, as {HANDED[one.how]} at {one.path}"
