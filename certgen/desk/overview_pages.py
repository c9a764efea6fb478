"""Today and Orchard: the season at a glance, each line leading to where something is entered or
mended.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Final

from certgen.desk.answering import RefusedError, address, go_to
from certgen.desk.entry_kinds import KINDS
from certgen.desk.form_reading import say_unknown
from certgen.dossier.cautions import cautions_of_due
from certgen.dossier.due import SUBJECTS, Due, list_due
from certgen.report.binder.orchard import draw_map
from certgen.report.context import Context
from certgen.report.wording import weigh
from certgen.rules.wording import day
from certgen.typeset.html_pages import our_own

if TYPE_CHECKING:
    from collections.abc import Sequence

    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk

#: What a subject leads to: the kind of entry that settles it, and the field that its record fills.
_SETTLES: Final = {
    "cleared for bagging": ("bag-on", "tree", "Bag on"),
    "result outstanding": ("results", "samples", "Results"),
    "screening to complete": ("sampled", "tree", "Sampled"),
    "bag to take off": ("bag-off", "bags", "Bag off"),
    "bag to pick": ("picked", "bags", "Picked"),
}
_TITLES: Final = {
    "cleared for bagging": "Trees cleared for bagging",
    "result outstanding": "Results awaited",
    "screening to complete": "Clean, and not cleared yet: bag none of these",
    "bag to take off": "Bags to take off",
    "bag to pick": "Bags to pick",
    "germination test": "Germination tests",
    "storage": "Seed in store",
    "inspection": "Inspection",
    "incident open": "Open incidents",
    "recall open": "Open recalls",
    "keep": "To keep",
}
#: What a season begins with, until it has a tree.
_BEGINS: Final = (
    ("blocks", "the land, with its status and what borders it"),
    ("plantings", "what was planted there, when, and where the seed came from"),
    ("trees", "each tree with its number, row and place"),
)
#: So many of a subject stand on the page at once.
_SHOWN: Final = 24
_MAP_LINK: Final = 'href="#map/'


def show_today(desk: Desk, ask: Ask) -> Response:
    """What is overdue and due, which trees are cleared, and what has changed among the findings."""
    snapshot = desk.held.look()
    due = list_due(snapshot.result)
    groups, ahead = _group(due, ask.query.get("all", ""))
    worst = [
        (number, gap) for number, gap in enumerate(snapshot.result.gaps, start=1) if gap.weight == "rejects"
    ]
    return desk.show(
        "today",
        snapshot,
        page="today",
        groups=groups,
        cautions=cautions_of_due(snapshot.result, due),
        ahead=[(_TITLES[subject], number) for subject, number in ahead.items()],
        summary=snapshot.result.summary,
        worst=worst[:6],
        hands=sum(gap.weight != "advice" for gap in snapshot.result.gaps),
        begins=() if snapshot.season.counts["trees"] else _BEGINS,
        weigh=weigh,
        said=ask.query,
    )


def _group(due: Sequence[Due], everything: str) -> tuple[list[dict[str, object]], dict[str, int]]:
    """What is due by subject, and how much of each lies further ahead. What is only to be kept isn't told."""
    subjects: defaultdict[str, list[Due]] = defaultdict(list)
    ahead: defaultdict[str, int] = defaultdict(int)
    for entry in due:
        if entry.subject == "keep":
            continue
        if entry.state == "later":
            ahead[entry.subject] += 1
        else:
            subjects[entry.subject].append(entry)
    groups = []
    for subject in filter(subjects.__contains__, SUBJECTS):
        entries = subjects[subject]
        shown = entries if everything == subject else entries[:_SHOWN]
        group: dict[str, object] = {
            "title": _TITLES[subject],
            "subject": subject,
            "total": len(entries),
            "overdue": sum(entry.state == "overdue" for entry in entries),
            "lines": [(entry, _say_window(entry), _lead_on(entry)) for entry in shown],
            "rest": len(entries) - len(shown),
            "walk": _lead_walk(subject, entries),
        }
        groups.append(group)
    return groups, ahead


def _say_window(entry: Due) -> str:
    if entry.state == "ready" and entry.first:
        return f"since {day(entry.first)}"
    if entry.first and entry.last:
        return f"{day(entry.first)} to {day(entry.last)}"
    if entry.last:
        return f"until {day(entry.last)}"
    return f"since {day(entry.first)}" if entry.first else ""


def _lead_on(entry: Due) -> tuple[str, str]:
    """What to press, and where it leads."""
    if entry.subject in _SETTLES:
        slug, field, title = _SETTLES[entry.subject]
        return title, address("enter", slug, **{field: entry.identifier})
    if entry.subject == "germination test":
        return "Enter a test", address("tables", "tests", "new", lot=entry.identifier)
    return "Open", address("record", entry.table, entry.identifier)


def _lead_walk(subject: str, entries: list[Due]) -> str:
    """One form for all of them, where one walk or one letter settles many."""
    if subject not in {"bag to take off", "bag to pick", "result outstanding"} or not 1 < len(entries) <= 400:
        return ""
    slug, field, _ = _SETTLES[subject]
    return address("enter", slug, **{field: "; ".join(entry.identifier for entry in entries)})


def show_orchard(desk: Desk, ask: Ask) -> Response:
    """The orchard's map; a tree leads to its own page, or to the form of an entry that asks for a tree."""
    snapshot = desk.held.look()
    kind = KINDS.get(ask.query.get("to", ""))
    if kind is not None and "tree" not in kind.fields:
        kind = None
    lead = f"{address('enter', kind.slug)}?tree=" if kind else "/record/trees/"
    drawn = str(draw_map(Context(snapshot.result))).replace(_MAP_LINK, f'href="{lead}')
    # Below the page's own heading there is none between.
    drawn = drawn.replace("<h3>", '<h2 class="small">').replace("</h3>", "</h2>")
    trees = tuple(str(name) for name in snapshot.season.tables["trees"]["tree"].tolist())
    return desk.show(
        "orchard", snapshot, page="orchard", drawing=our_own(drawn), names=trees, kind=kind, said=ask.query
    )


def go_to_tree(desk: Desk, ask: Ask) -> Response:
    """The page of a tree that was typed by its number."""
    snapshot, name = desk.held.look(), ask.query.get("tree", "").strip()
    if snapshot.season.row("trees", name) is None:
        told = say_unknown(name, ("trees",), snapshot.season)
        raise RefusedError(told[:1].upper() + told[1:])
    return go_to(address("record", "trees", name))
