"""What a member has to send, by when and how: its papers, its records, and what it types before."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from certgen.coop.papers.open_matters import count_open
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from certgen.coop.between.result import CoopResult, MemberView
    from certgen.coop.members.facts import PaperFact

#: How records are handed in; `{season}` is the member's own folder, `{path}` where the office keeps it.
_HOW: Final = {
    "folder": "Then give us the whole folder, with everything below it, the papers in its folder “evidence” "
    "too. We put it at “{path}”.",
    "archive": "Then pack the whole folder as a zip without a password, the papers in its folder “evidence” "
    "too, and send it. We put it at “{path}”.",
    "workbook": "Write what changes into your workbook, or make it anew with “certgen export {season} --out "
    "season.xlsx”, and send all of it. We put it at “{path}”. A workbook carries no papers: send a zip of "
    "your folder in its place where a paper is to be shown.",
}
_FIRST: Final = (
    "Where you have no season on this machine yet, “certgen new {season} --operation NAME” lays its folder "
    "out."
)
_LOOK: Final = "Before you send it: “certgen check {season}” tells what is still open."
_PAPERS: Final = (
    "A paper of several records is filed in one step: “certgen evidence {season} --add FILE --to {names}”; "
    "“certgen evidence {season}” lists what has none."
)
#: A name for a season's folder that nobody has named yet.
_UNNAMED: Final = "FOLDER"


@dataclass(frozen=True, slots=True)
class HandingIn:
    """What a member is to send: by the day `by` (None: none is given), handed in as `how`, kept at `path`.

    `absent` are papers that its records name and that weren't there, `papers` records that lack theirs;
    `steps` say in order what to do, in words for the member.
    """

    by: date | None
    how: str
    path: str
    absent: tuple[str, ...]
    absent_count: int
    papers: tuple[PaperFact, ...]
    steps: tuple[str, ...]


def tell_handing_in(result: CoopResult, view: MemberView) -> HandingIn | None:
    """What the member is to send; None where nothing is missing and nothing was asked for."""
    summary = view.summary
    asked = count_open(result, view.member.key)
    if view.readiness == "ready" and not summary.absent_count and not summary.papers and not asked:
        return None
    return HandingIn(
        result.answer_by,
        view.member.source,
        view.member.path,
        summary.absent,
        summary.absent_count,
        summary.papers,
        tuple(_list_steps(view)),
    )


def say_handing_in(told: HandingIn) -> Iterator[str]:
    """The same as items of a letter: by when, which papers, and the steps."""
    if told.by is not None:
        yield f"By {day(told.by)}."
    if told.absent_count:
        more = told.absent_count - len(told.absent)
        names = join([*told.absent, *([f"{more} more"] if more > 0 else [])])
        yield f"Papers that your records name and that were not with them: {names}."
    for one in told.papers:
        more = one.lacking - len(one.names)
        names = join([*one.names, *([f"{more} more"] if more > 0 else [])])
        yield f"{one.title}: {names}."
    yield from told.steps


def _list_steps(view: MemberView) -> Iterator[str]:
    """What to type, and how to hand it in."""
    member, summary = view.member, view.summary
    season = member.season or summary.stated.label or _UNNAMED
    if summary.state != "read":
        yield _FIRST.format(season=season)
    if member.source != "workbook":
        yield _LOOK.format(season=season)
        named = next((one.names[0].replace(" ", ":", 1) for one in summary.papers), "")
        if named or summary.absent_count:
            yield _PAPERS.format(season=season, names=named or "screening:S-1..S-19")
    yield _HOW[member.source].format(season=season, path=member.path)
