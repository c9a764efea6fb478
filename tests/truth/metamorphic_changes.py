"""Changes of a season that must not make any gram traced, one at a time, drawn off the schemas."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random
from typing import TYPE_CHECKING, Any

from frauds_records import KEYS

from certgen.records.tables import Field, load_season_table, load_tables
from certgen.standards import load_profile

if TYPE_CHECKING:
    from metamorphic_seasons import Story

    from certgen.examination import Result

Steps = tuple[str | int, ...]


@dataclass(frozen=True)
class Change:
    """One change of a season: the law that it is checked against, what it is in words, and how it is made.

    `field` is what it changes, as table and dotted name, for the table of results.
    """

    law: str
    field: str
    says: str
    make: Callable[[Story], None]


def fields_of(table: str) -> dict[str, Field]:
    """The fields of a table's records, or of the `season` mapping."""
    return dict((load_season_table() if table == "season" else load_tables()[table]).fields)


def places(story: Story) -> Iterator[tuple[str, str, str, Steps, Field, Any]]:
    """Every field of every record that holds something: year, table, number, steps from the table, field,
    value."""
    for year, table, at, record in story.records():
        name = str(record.get(KEYS[table]))
        for steps, part, value in _within(fields_of(table), record):
            yield year, table, name, (table, at, *steps), part, value
    for year, tables in story.years.items():
        for steps, part, value in _within(fields_of("season"), tables["season"]):
            yield year, "season", "season", ("season", *steps), part, value


def _within(fields: dict[str, Field], record: dict[str, Any]) -> Iterator[tuple[Steps, Field, Any]]:
    for name, value in record.items():
        part = fields.get(name)
        if part is None:
            continue
        yield (name,), part, value
        if isinstance(value, dict):
            own = dict(part.fields)
            if not own and part.item is not None and part.item.fields:
                own = dict.fromkeys(value, part.item)
            for steps, inner, one in _within(own, value):
                yield (name, *steps), inner, one
        elif isinstance(value, list) and part.item is not None and part.item.fields:
            for at, entry in enumerate(value):
                if isinstance(entry, dict):
                    for steps, inner, one in _within(dict(part.item.fields), entry):
                        yield (name, at, *steps), inner, one


def dotted(steps: Steps) -> str:
    """A field's name without positions: `bagging.checks.date`."""
    return ".".join(step for step in steps if isinstance(step, str))


def _at(story: Story, year: str, steps: Steps) -> tuple[Any, Any]:
    place: Any = story.years[year]
    for step in steps[:-1]:
        place = place[step]
    return place, steps[-1]


def _told(year: str, name: str, steps: Steps) -> str:
    path = ".".join(str(step) for step in steps[2 if steps[0] != "season" else 1 :])
    return f"{f'{year}/' if year else ''}{name}.{path}"


def _is_touched(story: Story, year: str, table: str, name: str, field: str = "") -> bool:
    return not {(year, table, name, ""), (year, table, name, field)}.isdisjoint(story.touched)


# Taking away


def without_support(story: Story) -> Iterator[Change]:
    """A field that only helps is left out, or a helpful one whose value was good."""
    for year, table, name, steps, part, _ in places(story):
        if part.required or part.evidence not in {"supports", "either"}:
            continue
        field = str(steps[2] if table != "season" else steps[1])
        # What the fault changed may be what speaks against.
        if part.evidence == "either" and _is_touched(story, year, table, name, field):
            continue

        def make(other: Story, year: str = year, steps: Steps = steps) -> None:
            place, last = _at(other, year, steps)
            del place[last]

        says = f"without {_told(year, name, steps)}"
        yield Change(f"without what {part.evidence}", dotted(steps), says, make)


#: Records that only ever speak against, or for nothing.
_AGAINST = frozenset({"submissions", "visits", "incidents", "inputs", "explanations"})


def left_out(story: Story) -> Iterator[Change]:
    """A record is left out that its fault didn't touch, and that doesn't speak against anything."""
    for year, table, at, record in story.records():
        name = str(record.get(KEYS[table]))
        if table in _AGAINST or any(one[:3] == (year, table, name) for one in story.touched):
            continue

        def make(other: Story, year: str = year, table: str = table, at: int = at) -> None:
            del other.years[year][table][at]

        yield Change("record left out", table, f"without {f'{year}/' if year else ''}{name}", make)


def mistyped(story: Story) -> Iterator[Change]:
    """A value of any record can't be read, or its field's name isn't one."""
    for year, _, name, steps, part, _ in places(story):
        wrong = _unreadable(part)
        if wrong is not None:

            def spoil(other: Story, year: str = year, steps: Steps = steps, wrong: Any = wrong) -> None:
                place, last = _at(other, year, steps)
                place[last] = wrong

            yield Change("mistyped", dotted(steps), f"{_told(year, name, steps)} is {wrong!r}", spoil)

        def misname(other: Story, year: str = year, steps: Steps = steps) -> None:
            place, last = _at(other, year, steps)
            place[f"{last}x"] = place.pop(last)

        yield Change("misnamed", dotted(steps), f"{_told(year, name, steps)} is misspelt", misname)


def _unreadable(part: Field) -> Any:
    """A value that no field of its kind takes; None for plain text, which takes all."""
    if part.kind == "text":
        return ["a", "list"]
    if part.kind == "identifier":
        return "not a number!"
    return {
        "mapping": "words",
        "list": {"a": "mapping"},
        "evidence": 7,
        "whole": "many",
        "number": "many",
    }.get(part.kind, "such and such")


# Speaking against


def _days(story: Story) -> list[date]:
    found = [value for *_, part, value in places(story) if part.kind == "date" and isinstance(value, str)]
    return sorted({date.fromisoformat(one[:10]) for one in found if one[:4].isdigit()})


def spoken_against(story: Story, random: Random) -> Iterator[Change]:
    """Something that can only hurt is written: a field, an incident, a test, a look, a storm, an input."""
    days = [day for day in _days(story) if day <= story.on]
    for year, table, at, record in story.records():
        name = str(record.get(KEYS[table]))
        for field, value in _hurting(table, story, random):
            if field in record:
                continue

            def write(other: Story, at: Any = (year, table, at), put: Any = (field, value)) -> None:
                other.years[at[0]][at[1]][at[2]][put[0]] = put[1]

            told = f"{f'{year}/' if year else ''}{name}.{field} is {value!r}"
            yield Change("written against", f"{table}.{field}", told, write)
        day = str(random.choice(days))
        for other_table, made in _speaking(table, name, record, day):

            def add(other: Story, year: str = year, table: str = other_table, made: Any = made) -> None:
                other.years[year].setdefault(table, []).append(made)

            told = f"{other_table} {made} in {year or 'this year'}"
            yield Change("added against", f"{other_table} on {table}", told, add)
        if table == "bagging":

            def look(other: Story, at: Any = (year, table, at), day: str = day) -> None:
                bag = other.years[at[0]][at[1]][at[2]]
                bag["checks"] = [*bag.get("checks", ()), {"date": day, "condition": "torn"}]

            yield Change("written against", "bagging.checks", f"{name} was found torn on {day}", look)


def _hurting(table: str, story: Story, random: Random) -> Iterator[tuple[str, Any]]:
    """Fields that can only hurt, with values that do."""
    days = [str(day) for day in _days(story)]
    trees = [record["tree"] for _, one, _, record in story.records() if one == "trees"]
    values = {
        ("trees", "removed"): random.choice(days), ("batches", "other_seed"): "gourd seed",
        ("harvests", "trees"): [random.choice(trees)] if trees else [],
        ("harvests", "ripening"): {"until": random.choice(days)}, ("tests", "other"): "0.2 g",
    }  # fmt: skip
    for (of, field), value in values.items():
        if of == table and fields_of(table)[field].evidence == "against":
            yield field, value


_LABORATORY = "Reedmace Laboratory"
_KINDS = (
    "complaint", "drift", "mixing", "other", "positive screening", "recall", "store pests", "storm",
    "torn bags",
)  # fmt: skip


def _speaking(
    table: str, name: str, record: dict[str, Any], day: str
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Records that speak against one."""
    if table in {"blocks", "plantings", "trees", "screening", "bagging", "harvests", "batches", "lots"}:
        for kind in _KINDS:
            made = {"incident": f"ZZ-{kind.split()[0]}", "date": day, "kind": kind, "about": [name]}
            yield "incidents", {**made, "action": "put right", "closed": day, "certifier_notified": day}
    if table == "blocks":
        material = {"block": name, "material": "glyphosate", "allowed_by": "the plan"}
        yield "inputs", {"input": "ZZ-1", "date": day, **material}
        yield "rounds", {"round": "ZZ-2", "kind": "storm", "date": day, "by": "A. Sallow", "blocks": [name]}
    if table == "trees":
        for method in ("gus", "pcr"):
            yield "screening", {
                "sample": f"ZZ-{method}", "tree": name, "mark": name, "collected": day, "method": method,
                "targets": ["35S", "NOS", "nptII", "CP"], "laboratory": _LABORATORY, "report": "RL-1",
                "controls": "passed", "result": "positive", "reported": day,
            }  # fmt: skip
    if table == "bagging":
        walk = {"round": "ZZ-3", "date": day, "by": "A. Sallow", "bags": [name]}
        yield "rounds", {**walk, "kind": "storm"}
        yield "rounds", {**walk, "kind": "check", "condition": "gone"}
    if table == "screening" and "result" in record:
        yield "letters", {"letter": "ZZ-4", "laboratory": _LABORATORY, "reported": day,
                          "result": "positive", "samples": [name]}  # fmt: skip
    if table == "batches" and record.get("equipment"):
        yield "batches", {
            "batch": "ZZ-5", "date": record["date"], "status": "conventional", "other_seed": "gourd seed",
            "equipment": record["equipment"],
        }  # fmt: skip
    if table == "lots":
        test = {"lot": name, "date": day}
        yield "tests", {
            "test": "ZZ-6", **test, "kind": "transgene", "pools": 4, "seeds_per_pool": 50,
            "positive_pools": 1,
            "targets": ["35S"], "controls": "passed", "laboratory": _LABORATORY, "report": "RL-2",
        }  # fmt: skip
        yield (
            "tests",
            {"test": "ZZ-7", **test, "kind": "purity", "pure": "40 g", "other": "1 g", "inert": "0 g"},
        )
        for kind in ("received", "returned", "counted", "sold"):
            yield "movements", {
                "movement": f"ZZ-{kind}", "date": day, "lot": name, "kind": kind, "weight": "900 g",
                "party": "Hollin Traders", "document": "DN-9", "status": "organic",
                "last_certified_operation": "Hollin Traders",
            }  # fmt: skip


# What lifts nothing


def explained(story: Story, result: Result) -> Iterator[Change]:
    """Every gap is explained, by the responsible person and with good reasons."""
    by_rule = [(gap.rule, [one for one in gap.ids if one]) for gap in result.gaps]
    reasons = [
        {"rule": rule, "about": about or ["L1"], "reason": "looked into and found in order", "by": "I. Marl",
         "date": str(story.on)}
        for rule, about in by_rule
    ]  # fmt: skip

    def make(other: Story) -> None:
        other.years[""].setdefault("explanations", []).extend(reasons)

    yield Change("explained", "explanations", "every gap is explained", make)


def own_figures(story: Story) -> Iterator[Change]:
    """The season's own figures are as loose as they may be, and looser."""
    profile = load_profile(story.years[""]["season"]["crop"])
    for key, figure in profile.practice.items():
        low, high = figure.limits
        for text, most in (("within limits", 1), ("beyond limits", 1000)):
            own = {"low": _loose(low, 1 / most), "high": _loose(high, most), "reason": "our own"}
            own = {name: value for name, value in own.items() if value is not None}

            def make(other: Story, key: str = key, own: Any = own) -> None:
                other.years[""]["season"].setdefault("practice", {})[key] = own

            yield Change("own figure", f"season.practice.{key}", f"{key} {text}: {own}", make)
    for name, value in (
        ("scale_step", "1 g"), ("scale_step", "900 g"), ("events_of_concern", ["55-1"]),
        ("review_triggers", {"mass_balance": "90 %"}),
    ):  # fmt: skip

        def put(other: Story, name: str = name, value: Any = value) -> None:
            other.years[""]["season"][name] = value

        yield Change("own figure", f"season.{name}", f"season.{name} is {value!r}", put)


def _loose(figure: float | None, times: float) -> float | None:
    return None if figure is None else figure * times


# What changes nothing


def described(story: Story, random: Random) -> Iterator[Change]:
    """Each field that only describes says something else, stands where it didn't, or is gone."""
    for year, table, name, steps, part, value in places(story):
        if part.evidence != "describes" or steps[-1] == "evidence":
            continue
        if not part.required and not _in_required(steps, table):

            def drop(other: Story, year: str = year, steps: Steps = steps) -> None:
                place, last = _at(other, year, steps)
                del place[last]

            yield Change("description gone", dotted(steps), f"without {_told(year, name, steps)}", drop)
        other_value = otherwise(part, value, random)
        if other_value is not None:

            def change(other: Story, year: str = year, steps: Steps = steps, put: Any = other_value) -> None:
                place, last = _at(other, year, steps)
                place[last] = put

            told = f"{_told(year, name, steps)} is {other_value!r}"
            yield Change("description changed", dotted(steps), told, change)
    for year, table, at, record in story.records():
        for field, part in fields_of(table).items():
            if part.evidence == "describes" and field not in record and part.examples:
                example = random.choice(part.examples)

                def add(other: Story, at: Any = (year, table, at), put: Any = (field, example)) -> None:
                    other.years[at[0]][at[1]][at[2]][put[0]] = put[1]

                told = f"{f'{year}/' if year else ''}{record.get(KEYS[table])}.{field} is {example!r}"
                yield Change("description added", f"{table}.{field}", told, add)


def _in_required(steps: Steps, table: str) -> bool:
    """An own label, or what stands within a list's entry, is left where it is."""
    return table == "season" and steps[1] == "label"


def otherwise(part: Field, value: Any, random: Random) -> Any:
    """Another value that the field takes; None if none is at hand."""
    if part.kind == "date" and isinstance(value, str):
        return str(date.fromisoformat(value) + timedelta(days=random.choice((-3, -1, 1, 3))))
    if part.kind == "yes_no":
        return not value
    if part.kind == "whole" and isinstance(value, int):
        return value + 1
    if part.enum:
        return random.choice([one for one in part.enum if one != value] or [value])
    if part.kind == "text" and isinstance(value, str):
        return f"{value}, or so"
    others = [one for one in part.examples if one != value and type(one) is type(value)]
    return random.choice(others) if others else None
