"""Changes to inputs, drawn by chance: noise, words of the trade, and changes inside what lies packed.

A file that is mutated as one stretch of bytes is mostly refused at the door. So a text made of parts (see
`foreign_files`) is, half of the time, changed in one of its parts only, and a part in JSON in one value.
"""

from __future__ import annotations

import json
import re
from random import Random
from typing import Any

from foreign_files import join_parts, split_parts

_SIGNS = [
    b"\n", b"\n- ", b"\n  ", b": ", b"- ", b"? ", b"[", b"]", b"{", b"}", b",", b"&a", b"*a", b"!!str ",
    b"!", b"#", b"|\n", b">\n", b"'", b'"', b"\\x1b", b"\\u202e", b"\t", b"---\n", b"...\n",
    b"%YAML 1.1\n", b"<<", b"~", b"@", b"\xef\xbb\xbf", b"\xff", b"\xc2\x85", b"\xe2\x80\xa8", b"\x00",
    b"\r", b"010", b"NO", b"2026-02-30", b"-1 g", b"1e999", b"9" * 40, b"1,5 kg", b"\xd9\xa1 g",
    b"season:\n", b"previous: ..\n",
    b'""', b";", b"\r\n", b"=1+1", b"'=", b"3/4/2026", b"46100", b"12 %", b"XFD1048576", b'r="1048576"',
    b'r="AAAA1"',
    b't="s"', b't="inlineStr"', b't="d"', b't="e"', b"<v>", b"</v>", b"<f>", b"&#1;", b"&amp;", b"_x001B_",
    b"/../",
    b"=== a\n", b"\\u0000", b"\\ud800", b"null", b"true", b"1e400", b"{}", b"[]", b"previous-1/", b"evidence",
]  # fmt: skip


_WORD = re.compile(rb"[A-Za-z0-9_.+-]+")
#: What stands in a manifest where something else was meant.
_ODD_VALUES = [
    None, True, False, 0, -1, 1, 2**63, 10**400, 1.5, "", "..", "/", "../../x", "a\x00b", "\ud800", "\u202e",
    "2026-02-30", "0000-00-00", "x" * 500, "evidence", "previous-1", "records/season.yaml", "season.yaml",
    "manifest.json", [], {}, [[]], {"": None}, ["a"],
]  # fmt: skip


def vocabulary() -> list[bytes]:
    """YAML's signs, and the names of every table and field."""
    from certgen.records.tables import load_tables

    words = set()
    for table in load_tables().values():
        words.add(f"\n{table.name}:\n- ".encode())
        words.update(f"{name}: ".encode() for column in table.columns for name in column.path)
    return [*_SIGNS, *sorted(words)]


def mutate(data: bytes, corpus: list[bytes], words: list[bytes], chance: Random, most: int) -> bytes:
    """The input with a few changes, all over it or, of one made of parts, inside one part."""
    parts = split_parts(data)
    if not parts or chance.random() < 0.5:
        return _scatter(data, corpus, words, chance, chance.choice((1, 1, 2, 3, 6)))[:most]
    name = chance.choice(list(parts))
    if chance.random() < 0.05:
        renamed = chance.choice([*parts, "x", "../x", "records/../x", "xl/x.xml", "records/b.yaml"])
        parts[renamed] = parts.pop(name)
    elif name.endswith(".json") and chance.random() < 0.7:
        parts[name] = _change_value(parts[name], chance)
    else:
        parts[name] = _scatter(parts[name], corpus, words, chance, chance.choice((1, 1, 2)))
    # The form puts a line end behind each part, and had put one there before.
    return join_parts({one: content.removesuffix(b"\n") for one, content in parts.items()})[:most]


def _change_value(text: bytes, chance: Random) -> bytes:
    """JSON with one value put in, taken out, or made another."""
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        return text
    at, places = content, []
    while isinstance(at, dict | list) and at:
        step: Any = chance.choice(list(at) if isinstance(at, dict) else range(len(at)))
        places.append((at, step))
        at = at[step]
    if not places:
        return text
    above, step = chance.choice(places)
    match chance.randrange(4):
        case 0:
            del above[step]
        case 1 if isinstance(above, list):
            above.insert(step, above[step])
        case 2 if isinstance(above, dict):
            above[chance.choice(["", "x", *above])] = above[step]
        case _:
            above[step] = chance.choice(_ODD_VALUES)
    return json.dumps(content, ensure_ascii=chance.random() < 0.9).encode("utf-8", "surrogatepass")


def _scatter(data: bytes, corpus: list[bytes], words: list[bytes], chance: Random, changes: int) -> bytes:
    """Bytes, words, stretches and lines put in, taken out, doubled, moved, and words taken for others."""
    for _ in range(changes):
        at = chance.randint(0, len(data))
        end = min(len(data), at + chance.choice((1, 1, 2, 8, 64)))
        match chance.randrange(10):
            case 0:
                data = data[:at] + chance.choice(words) + data[at:]
            case 1:
                data = data[:at] + data[end:]
            case 2:
                data = data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]
            case 3:
                data = data[:end] + data[at:end] * chance.choice((1, 2, 30)) + data[end:]
            case 4:
                other = chance.choice(corpus)
                start = chance.randint(0, len(other))
                data = data[:at] + other[start : start + chance.choice((4, 40, 400))] + data[at:]
            case 5:
                lines = data.split(b"\n")
                chance.shuffle(lines)
                data = b"\n".join(lines)
            case 6:
                lines = data.split(b"\n")
                line = chance.randrange(len(lines))
                lines[line] = chance.choice((b" ", b"  ", b"\t", b"- ")) + lines[line].lstrip()
                data = b"\n".join(lines)
            case 7:
                data = data[:at] + chance.choice(words) + data[end:]
            case _:
                if found := _WORD.search(data, at):
                    word = chance.choice(words).strip(b"\n:- ") if chance.random() < 0.6 else None
                    if word is None:
                        others = _WORD.findall(chance.choice(corpus)) or [b"0"]
                        word = chance.choice(others)
                    data = data[: found.start()] + word + data[found.end() :]
    return data
