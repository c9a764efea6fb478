"""A season's folder to a `Season`, with every reading error of the run beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from certgen.records.files import list_folder, read_bytes
from certgen.records.limits import EARLIER_SEASONS, ERRORS_A_FILE, SEASON_BYTES
from certgen.records.locating import Span, span_of
from certgen.records.places import ReadingError
from certgen.records.season import Operation, Season, SeasonDetails, Source, digest
from certgen.records.tables import Table, load_season_table, load_tables

if TYPE_CHECKING:
    from yaml.nodes import Node

    from certgen.records.construction import Convert, Fault

Words = Mapping[str, Sequence[str]]
WordsOf = Callable[[str], Words]


@dataclass(slots=True)
class _Found:
    """What has been gathered so far, over all files."""

    records: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    files: dict[str, list[str]] = field(default_factory=dict)
    at: dict[str, list[int]] = field(default_factory=dict)
    spans: dict[tuple[str, str], tuple[Span, ...]] = field(default_factory=dict)
    sources: dict[str, Source] = field(default_factory=dict)
    errors: list[ReadingError] = field(default_factory=list)
    left_out: list[ReadingError] = field(default_factory=list)
    season: dict[str, Any] | None = None
    season_file: str = ""
    season_line: int = 0


def read_season(
    folder: Path,
    *,
    within: Path | None = None,
    words_of: WordsOf | None = None,
    _later: tuple[Path, ...] = (),
) -> tuple[Season | None, tuple[ReadingError, ...]]:
    """Read a season's folder: all errors in one run, the broken records left out, the rest as a `Season`.

    The season is None only when nothing can be checked: no such folder, or no sound `season` mapping.
    `words_of` gives the words that a crop's profile allows (it raises ValueError for a crop it doesn't
    know); without it such words are taken as they stand. `within` bounds where `previous` may lead.
    Errors of earlier seasons come last, their files named from this folder.
    """
    from certgen.records.parsing import pause_collector

    if not folder.is_dir():
        what = "is a file; name the folder it lies in" if folder.exists() else "there is no such folder"
        return None, (ReadingError(folder.as_posix(), None, None, what),)
    listing = list_folder(folder)
    if not listing.records and not listing.errors:
        return None, (
            ReadingError(
                folder.as_posix(),
                None,
                None,
                "holds no record file (*.yaml); `certgen new` lays a season out",
            ),
        )
    found = _Found(errors=list(listing.errors))
    with pause_collector():
        nodes = _compose_all(folder, listing.records, found)
        words = _read_details(nodes, found, words_of)
        _read_tables(nodes, found, words)
        nodes.clear()
        if found.season is None:
            if not found.season_file:
                found.errors.append(
                    ReadingError(
                        folder.as_posix(),
                        None,
                        None,
                        "no file says whose season this is: write a `season:` entry with operation, label, from, to, crop, standards",
                    )
                )
            return None, tuple(sorted(found.errors, key=_order))
        details = _details(found.season, found.season_file)
        from certgen.records.frames import build_frame

        frames = {
            name: build_frame(
                table, found.records.get(name, []), found.files.get(name, []), found.at.get(name, [])
            )
            for name, table in load_tables().items()
        }
    errors = sorted(found.errors, key=_order)
    previous, earlier = _read_previous(folder, details, found, within, words_of, _later)
    season = Season(
        folder=folder,
        details=details,
        tables=frames,
        sources=found.sources,
        left_out=tuple(sorted(found.left_out, key=_order)),
        previous=previous,
        evidence_files=tuple(listing.evidence),
        spans=found.spans,
    )
    return season, (*errors, *earlier)


def _order(error: ReadingError) -> tuple[str, int, int, str]:
    return (error.file, error.line or 0, error.column or 0, error.message)


def _compose_all(folder: Path, files: list[str], found: _Found) -> dict[str, list[tuple[Node, Node]]]:
    """Every file's top-level entries, table name and content, still as nodes."""
    from yaml.nodes import MappingNode, ScalarNode

    from certgen.records.parsing import ParsingError, compose, decode

    entries: dict[str, list[tuple[Node, Node]]] = {}
    budget = SEASON_BYTES
    for file in files:
        data = read_bytes(folder, file, budget)
        if isinstance(data, ReadingError):
            found.errors.append(data)
            continue
        budget -= len(data)
        try:
            text = decode(data, file)
            found.sources[file] = Source(text, digest(data), len(data))
            root = compose(text, file)
        except ParsingError as fault:
            found.errors.append(fault.error)
            continue
        if root is None or (isinstance(root, ScalarNode) and not root.value):
            found.errors.append(
                ReadingError(
                    file, 1, 1, "is empty; if records belong here they are lost, otherwise delete the file"
                )
            )
        elif not isinstance(root, MappingNode):
            found.errors.append(
                _error(
                    file, root, "begins without a table's name; write for example `bagging:` above the list"
                )
            )
        else:
            entries[file] = _unique_tables(file, root.value, found)
    return entries


def _unique_tables(file: str, pairs: list[tuple[Node, Node]], found: _Found) -> list[tuple[Node, Node]]:
    import difflib

    from yaml.nodes import ScalarNode

    kept: dict[str, tuple[Node, Node]] = {}
    known = ["season", *load_tables()]
    for key, value in pairs:
        if not isinstance(key, ScalarNode):
            found.errors.append(_error(file, key, "a table's name must be plain text"))
        elif key.value in kept:
            first = kept[key.value][0].start_mark.line + 1
            found.errors.append(
                _error(
                    file,
                    key,
                    f"`{key.value}` begins twice in this file (first on line {first}); put its records in one list",
                )
            )
        elif key.value not in known:
            close = difflib.get_close_matches(key.value, known, 1, 0.6) if len(key.value) < 60 else []
            hint = f"did you mean `{close[0]}`?" if close else f"the tables are: {', '.join(known)}"
            found.errors.append(_error(file, key, f"there is no table `{key.value[:40]}`; {hint}"))
        else:
            kept[key.value] = (key, value)
    return list(kept.values())


def _error(file: str, node: Node, message: str, left_out: str = "") -> ReadingError:
    return ReadingError(file, node.start_mark.line + 1, node.start_mark.column + 1, message, left_out)


def _read_details(
    entries: Mapping[str, list[tuple[Node, Node]]], found: _Found, words_of: WordsOf | None
) -> Words:
    """Find the one `season` mapping; return the words that its crop's profile allows."""
    from yaml.nodes import MappingNode

    from certgen.records.construction import record_converter
    from certgen.records.validation import find_objections

    for file, pairs in entries.items():
        for key, node in pairs:
            if key.value != "season":
                continue
            if found.season_file:
                found.errors.append(
                    _error(
                        file,
                        key,
                        f"`season` stands already in {found.season_file}, line {found.season_line}; keep one",
                    )
                )
                continue
            found.season_file, found.season_line = file, key.start_mark.line + 1
            if not isinstance(node, MappingNode):
                found.errors.append(
                    _error(file, key, "`season` needs fields: operation, label, from, to, crop, standards")
                )
                continue
            found.spans[file, "season"] = (span_of(node),)
            faults: list[Fault] = []
            record = record_converter(load_season_table().fields, {})(node, faults)
            objections = find_objections("season", [record]).get(0, [])
            found.errors.extend(_error(file, fault.node, fault.message) for fault in faults)
            if not faults:
                found.errors.extend(
                    _error(file, _node_at(node, part.path), part.message) for part in objections
                )
            if faults or objections:
                continue
            if record["from"] > record["to"]:
                found.errors.append(
                    _error(file, _node_at(node, ("to",)), "the season ends (`to`) before it begins (`from`)")
                )
                continue
            if words_of is not None:
                try:
                    words = words_of(record["crop"])
                except ValueError as fault:
                    found.errors.append(_error(file, _node_at(node, ("crop",)), str(fault)))
                    continue
                found.season = record
                return words
            found.season = record
    return {}


def _node_at(node: Node, path: Sequence[str | int]) -> Node:
    """The node a path leads to; where a step is missing, the last one there was."""
    from yaml.nodes import MappingNode, ScalarNode, SequenceNode

    for step in path:
        inside: Node | None = None
        if isinstance(step, int) and isinstance(node, SequenceNode) and step < len(node.value):
            inside = node.value[step]
        elif isinstance(step, str) and isinstance(node, MappingNode):
            inside = next(
                (value for key, value in node.value if isinstance(key, ScalarNode) and key.value == step),
                None,
            )
        if inside is None:
            return node
        node = inside
    return node


def _read_tables(entries: Mapping[str, list[tuple[Node, Node]]], found: _Found, words: Words) -> None:
    from certgen.records.construction import record_converter

    converters: dict[str, Convert] = {}
    for file, pairs in entries.items():
        for key, node in pairs:
            name = key.value
            if name == "season":
                continue
            table = load_tables()[name]
            if name not in converters:
                converters[name] = record_converter(table.fields, words)
            _read_table(file, table, key, node, converters[name], found)


def _read_table(file: str, table: Table, key: Node, node: Node, convert: Convert, found: _Found) -> None:
    from yaml.nodes import MappingNode, ScalarNode, SequenceNode

    from certgen.records.validation import find_objections

    if isinstance(node, ScalarNode) and node.style is None and node.value in ("", "~"):
        return
    if not isinstance(node, SequenceNode):
        found.errors.append(_error(file, key, f"`{table.name}` takes a list: begin each record with a dash"))
        return
    records: list[dict[str, Any]] = []
    positions: list[int] = []
    troubles: list[tuple[Node, int, list[tuple[Node, str]]]] = []
    for index, element in enumerate(node.value):
        if type(element) is not MappingNode:
            troubles.append((element, index, [(element, "a record needs fields: `name: value`, one a line")]))
            continue
        faults: list[Fault] = []
        record = convert(element, faults)
        if faults:
            named = [(fault.node, fault.message) for fault in faults]
            troubles.append((element, index, named + _missing(table, element, record)))
            continue
        records.append(record)
        positions.append(index)
    objections = find_objections(table.name, records)
    for row, parts in objections.items():
        element = node.value[positions[row]]
        troubles.append(
            (element, positions[row], [(_node_at(element, part.path), part.message) for part in parts])
        )
    if objections:
        records = [record for row, record in enumerate(records) if row not in objections]
        positions = [index for row, index in enumerate(positions) if row not in objections]
    troubles.sort(key=lambda trouble: trouble[1])
    _report(file, table, troubles, found)
    found.records.setdefault(table.name, []).extend(records)
    found.files.setdefault(table.name, []).extend([file] * len(records))
    found.at.setdefault(table.name, []).extend(positions)
    found.spans[file, table.name] = tuple([span_of(element) for element in node.value])


def _missing(table: Table, element: Node, record: Mapping[str, Any]) -> list[tuple[Node, str]]:
    """What a record that is faulty anyway lacks besides, so that one run names everything."""
    from certgen.records.validation import explain

    written = {key.value for key, _ in element.value}
    return [
        (element, part.message)
        for part in explain(table.name, record)
        if part.missing and not part.path and part.missing not in written
    ]


def _report(
    file: str, table: Table, troubles: list[tuple[Node, int, list[tuple[Node, str]]]], found: _Found
) -> None:
    """Turn faults into errors that name the record left out. A wholly wrong file is cut short, and says by how much."""
    shown = 0
    for element, index, faults in troubles:
        name = _name_of(element, table, index)
        found.left_out.append(_error(file, element, f"{name} was left out", name))
        if shown < ERRORS_A_FILE:
            found.errors.extend(
                _error(file, at, f"{message} [{name} is left out]", name) for at, message in faults
            )
        shown += 1
    if shown > ERRORS_A_FILE:
        found.errors.append(
            ReadingError(
                file,
                None,
                None,
                f"{shown - ERRORS_A_FILE:,} more records of `{table.name}` are left out for faults like these",
            )
        )


def _name_of(element: Node, table: Table, index: int) -> str:
    from yaml.nodes import MappingNode, ScalarNode

    if table.key and isinstance(element, MappingNode):
        for key, value in element.value:
            if (
                isinstance(key, ScalarNode)
                and key.value == table.key
                and isinstance(value, ScalarNode)
                and value.value
            ):
                return f"{table.name} {value.value[:40]}"
    return f"{table.name} record {index + 1}"


def _details(record: Mapping[str, Any], file: str) -> SeasonDetails:
    operation = record["operation"]
    return SeasonDetails(
        label=record["label"],
        start=date.fromisoformat(record["from"]),
        end=date.fromisoformat(record["to"]),
        crop=record["crop"],
        standards=tuple(record["standards"]),
        operation=Operation(
            **{
                name: str(operation.get(name, ""))
                for name in ("name", "certificate", "certifier", "address", "responsible")
            }
        ),
        events_of_concern=tuple(record.get("events_of_concern", ())),
        previous=record.get("previous", ""),
        review_triggers=record.get("review_triggers", {}),
        practice=record.get("practice", {}),
        raw=record,
        file=file,
    )


def _read_previous(
    folder: Path,
    details: SeasonDetails,
    found: _Found,
    within: Path | None,
    words_of: WordsOf | None,
    later: tuple[Path, ...],
) -> tuple[Season | None, tuple[ReadingError, ...]]:
    if not details.previous:
        return None, ()
    from certgen.records.locating import locate_in_span

    spans = found.spans[details.file, "season"]
    line, column = locate_in_span(found.sources[details.file].text, spans[0], {0: ("previous",)})[0]

    def refuse(message: str) -> tuple[None, tuple[ReadingError, ...]]:
        return None, (ReadingError(details.file, line, column, message),)

    target = (folder / details.previous).resolve()
    seen = (*later, folder.resolve())
    if within is not None and not target.is_relative_to(within.resolve()):
        return refuse(f"`previous` leads out of the folder that may be read ('{details.previous}')")
    if not target.is_dir():
        return refuse(f"`previous` names '{details.previous}', and there is no such folder")
    if target in seen:
        return refuse("`previous` leads back to a season that has been read already")
    if len(seen) > EARLIER_SEASONS:
        return refuse(f"more than {EARLIER_SEASONS} earlier seasons follow one another; name fewer")
    season, errors = read_season(target, within=within, words_of=words_of, _later=seen)
    named = tuple(
        ReadingError(
            f"{details.previous}/{e.file}" if e.line else e.file, e.line, e.column, e.message, e.left_out
        )
        for e in errors
    )
    return season, named
