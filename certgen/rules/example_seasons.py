"""The seasons that show a rule at work: one that has the gap and a near twin that hasn't.

They stand in `examples/<slug>/bad.yaml` and `good.yaml` and are laid over the small clean season
`examples/base.yaml`: a record takes the place of the base's record with the same identifier, others
are added, and a comment `# without: bagging B2 B3` takes base records away. A line that ends in
`# gap: <slug>` is where the gap must stand. For an example that names `previous: ../earlier` the folder
`earlier` is made of the small clean season before, `examples/before.yaml`, with the example's own
`earlier.yaml`, where there is one, laid over it in the same way. Letters and photos that the base names lie
in `examples/evidence`, those that only an example names in its own `evidence` folder.

A supplier's packet is a report of many pages, and verifying one takes another room. An example tells in a
comment what the verified packet shows: `# packet FILE: {...}` is `examples/packet.yaml` but for what it says
itself, and is written in the place of the packet for a reader that takes it as it stands.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from shutil import copytree
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterator

EXAMPLES: Final = Path(__file__).parent / "examples"
#: The day on which the examples are examined.
EXAMPLES_ON: Final = date(2026, 10, 31)
_MARK: Final = re.compile(r"#.*?\bgap:\s*([a-z-]+(?:\s*,\s*[a-z-]+)*)")
_WITHOUT: Final = re.compile(r"^#\s*without:\s*(\w+)\s+(.+?)\s*$")
_TABLE: Final = re.compile(r"^([a-z]+):\s*$")
_KEY: Final = re.compile(r"^  - ([a-z]+): *(\S+) *(?:#.*)?$")
_PACKET: Final = re.compile(r"^# packet (\S+): (\{.*\})$", re.MULTILINE)
_PREVIOUS: Final = re.compile(r"^  previous: \.\./earlier\b", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class ExampleSeason:
    """One of a rule's two seasons: its text, and the (line, slug) pairs that it marks."""

    slug: str
    kind: str
    text: str

    @property
    def marks(self) -> frozenset[tuple[int, str]]:
        """The (line, slug) pairs at which gaps must stand."""
        return frozenset(
            (number, slug.strip())
            for number, line in enumerate(self.text.splitlines(), start=1)
            for found in _MARK.finditer(line)
            for slug in found[1].split(",")
        )

    def write(self, folder: Path) -> Path:
        """Writes the season below `folder`: the base without what is replaced, and the example as it stands.

        The season before stands beside it, if the example names one. Returns the season's own folder."""
        season = folder / "season"
        _write_over("base.yaml", season, f"{self.kind}.yaml", self.text)
        copytree(EXAMPLES / "evidence", season / "evidence")
        own = EXAMPLES / self.slug / "evidence"
        for path in own.rglob("*.*") if own.is_dir() else ():
            if path.name in self.text:
                copied = season / "evidence" / path.relative_to(own)
                copied.parent.mkdir(parents=True, exist_ok=True)
                copied.write_bytes(path.read_bytes())
        for file, told in _PACKET.findall(self.text):
            packet = season / "evidence" / file
            packet.parent.mkdir(parents=True, exist_ok=True)
            packet.write_text(json.dumps(_packet_but_for(told), default=str), encoding="utf-8")
        if _PREVIOUS.search(self.text):
            earlier = EXAMPLES / self.slug / "earlier.yaml"
            text = earlier.read_text(encoding="utf-8") if earlier.exists() else ""
            _write_over("before.yaml", folder / "earlier", "earlier.yaml", text)
        return season


def _packet_but_for(told: str) -> dict[str, Any]:
    """What a verified packet shows: the sound one of the examples, but for what is told."""
    import yaml

    sound = yaml.safe_load((EXAMPLES / "packet.yaml").read_text(encoding="utf-8"))
    return {**sound, **yaml.safe_load(told)}


def load_example(slug: str, kind: str) -> ExampleSeason:
    """The rule's `bad` or `good` season."""
    return ExampleSeason(slug, kind, (EXAMPLES / slug / f"{kind}.yaml").read_text(encoding="utf-8"))


def _write_over(base: str, folder: Path, name: str, text: str) -> None:
    """Writes one of the two bases without what the text replaces, and the text beside it."""
    folder.mkdir(parents=True)
    whole = (EXAMPLES / base).read_text(encoding="utf-8")
    (folder / base).write_text(_strip(whole, set(_replaced(text))), encoding="utf-8")
    if text:
        (folder / name).write_text(text, encoding="utf-8")


def _replaced(text: str) -> Iterator[tuple[str, str]]:
    """The (table, identifier) pairs that stand in an example or are taken away by it."""
    table = ""
    for line in text.splitlines():
        if found := _WITHOUT.match(line):
            yield from ((found[1], identifier) for identifier in found[2].split())
        elif found := _TABLE.match(line):
            table = found[1]
            if table == "season":
                yield table, ""
        elif found := _KEY.match(line):
            yield table, found[2]


def _strip(base: str, replaced: set[tuple[str, str]]) -> str:
    """The base without the replaced records. Line by line: its form is our own and plain."""
    kept: list[str] = []
    table, keep = "", True
    for line in base.splitlines():
        if found := _TABLE.match(line):
            table = found[1]
            keep = (table, "") not in replaced
        elif found := _KEY.match(line):
            keep = (table, found[2]) not in replaced
        elif not line.strip() or line.startswith("#"):
            keep = True
        if keep:
            kept.append(line)
    return _drop_empty("\n".join(kept) + "\n")


def _drop_empty(text: str) -> str:
    """Takes away tables that have lost all their records."""
    return re.sub(r"^[a-z]+:\s*\n(?=(?:\s*\n)*(?:[a-z#]|\Z))", "", text, flags=re.MULTILINE)
