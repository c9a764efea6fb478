"""Which approval each input rests on, and whether it holds on that day, in that place and for that use."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from certgen.rules.pollination.spelling import fold_name
from certgen.rules.wording import day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date

    from certgen.rules.case import Case


@dataclass(frozen=True, slots=True)
class Approval:
    """An input's entry on the list of approved materials.

    `cited` says that the input gives its number; else its name was found. `lacks` are what keeps it from
    holding, in words that follow the material's name, and `other_use` why its purpose is another.
    """

    material: str
    name: str
    kind: str
    cited: bool
    lacks: tuple[str, ...]
    other_use: str
    reentry: float | None
    harvest: float | None

    @property
    def holds(self) -> bool:
        """Whether it allows this input."""
        return not self.lacks


_ENTRY: Final = (
    "material", "name", "kind", "approved_by", "from", "until", "condition", "blocks", "purposes",
    "reentry_interval_s", "days_to_harvest_s",
)  # fmt: skip


def find_approvals(case: Case) -> Mapping[int, Approval]:
    """By the row of each input the approval that it rests on. Inputs that are on no list are left out.

    An input that gives no number rests on the entry that bears its material's name or number; of several
    on one that holds, else on the last.
    """
    lookup = _Entries(case)
    found: dict[int, Approval] = {}
    columns = ("approval", "material", "date", "block", "purpose", "condition_met")
    for row, cited, material, *use in case.columns("inputs").rows(*columns):
        judged = [_judge(entry, use, cited=cited is not None) for entry in lookup.find(cited, material)]
        if judged:
            found[row] = next((one for one in judged if one.holds and not one.other_use), judged[-1])
    return found


class _Entries:
    """The list of approved materials, by number and by name."""

    def __init__(self, case: Case) -> None:
        self._numbered: dict[str, dict[str, Any]] = {}
        self._named: dict[str, list[dict[str, Any]]] = defaultdict(list)
        for _, *values in case.columns("materials").rows(*_ENTRY):
            entry = dict(zip(_ENTRY, values, strict=True))
            self._numbered.setdefault(entry["material"], entry)
            for text in {fold_name(entry["material"]), fold_name(entry["name"])}:
                self._named[text].append(entry)

    def find(self, cited: str | None, material: str) -> list[dict[str, Any]]:
        if cited is None:
            return self._named.get(fold_name(material), [])
        return [self._numbered[cited]] if cited in self._numbered else []


def _judge(entry: Mapping[str, Any], use: list[Any], *, cited: bool) -> Approval:
    when, block, purpose, met = use
    return Approval(
        material=entry["material"],
        name=entry["name"],
        kind=entry["kind"] or "",
        cited=cited,
        lacks=tuple(filter(None, (_lacks_days(entry, when), *_lacks_rest(entry, block, met)))),
        other_use=_other_use(entry["purposes"], purpose),
        reentry=entry["reentry_interval_s"],
        harvest=entry["days_to_harvest_s"],
    )


def _lacks_days(entry: Mapping[str, Any], when: date) -> str:
    first, last = entry["from"], entry["until"]
    if (first is not None and when < first) or (last is not None and when > last):
        days = (("from", first), ("until", last))
        return f"it is approved {' '.join(f'{word} {day(told)}' for word, told in days if told is not None)}"
    if first is None or last is None:
        return f"nothing says {'from' if first is None else 'until'} when it is approved"
    return ""


def _lacks_rest(entry: Mapping[str, Any], block: str, met: str | None) -> Iterator[str]:
    if entry["approved_by"] is None:
        yield "nobody is named who approved it"
    if entry["condition"] is not None and met is None:
        yield f"nothing says how its condition was met ({entry['condition']})"
    if entry["blocks"] and block not in entry["blocks"]:
        yield f"it is approved for {name('blocks', entry['blocks'])} only"


def _other_use(purposes: tuple[str, ...], purpose: str | None) -> str:
    if not purposes or (purpose and any(fold_name(one) in fold_name(purpose) for one in purposes)):
        return ""
    given = f"not for '{purpose}'" if purpose else "and the input gives no purpose"
    return f"it is approved for {join(purposes)} only, {given}"
