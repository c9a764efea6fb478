"""The example season with every word of its own exchanged for an improbable one, and a search for them.

Numbers keep their digits, so that ranges mean what they meant; every other text becomes one token. Days,
amounts and words out of a list stay. Nothing here asks `x-discloses`: what may be shown is listed by hand.
"""

from __future__ import annotations

import base64
import hashlib
import html
import io
import json
import random
import re
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pikepdf
import pypdfium2
import yaml
from PIL import Image, PngImagePlugin

from certgen.records.tables import load_season_table, load_tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.records.tables import Field

_SOURCE: Final = Path("example_season")
#: Texts that name records, besides those whose kind is `identifier`.
_NAMING: Final = frozenset({"trees", "bags", "samples", "harvests", "about", "mark"})
#: What a label, a test or a packet says of the seed itself may be shown to whoever bought it.
_SHOWN: Final = frozenset({
    "season.operation.name", "season.operation.certificate", "season.operation.certifier", "season.label",
    "season.routine.packaging",
    "plantings.variety", "plantings.short", "bagging.tag.variety", "lots.variety", "lots.packaging",
    "lots.label.status", "lots.label.variety", "lots.treatment.with", "batches.treatment.with",
    "tests.method", "tests.temperature", "tests.substrate",
})  # fmt: skip
#: Texts that a rule reads as they stand.
_KEPT: Final = frozenset({
    "season.label", "season.previous", "lots.label.status", "tests.method", "tests.temperature",
    "tests.substrate", "blocks.last_prohibited_substance", "recalls.started", "recalls.ended",
})  # fmt: skip
#: Figures that tell where the land lies.
_MEASURED: Final = frozenset({"blocks.corners"})
_NUMBERED: Final = re.compile(r"^(.*?)([0-9]+)$")


@dataclass
class TokenedSeason:
    """The folder, what each word became, and the tokens that whoever bought of a lot may see."""

    folder: Path
    tokens: dict[str, str] = field(default_factory=dict)
    shown: set[str] = field(default_factory=set)
    #: What stands as it was, and is searched for as it stands.
    literals: set[str] = field(default_factory=set)
    #: Words inside evidence files.
    inside: set[str] = field(default_factory=set)
    _drawn: random.Random = field(default_factory=lambda: random.Random(17))

    def token(self, word: str) -> str:
        """What a word became."""
        key = " ".join(word.split()).casefold()
        if key not in self.tokens:
            letters = "".join(self._drawn.choice("bcdfghjklmnpqrstvwxz") for _ in range(11))
            self.tokens[key] = f"Qz{letters}"
        return self.tokens[key]

    def number(self, name: str) -> str:
        """What a record's number became: other letters, the same digits."""
        found = _NUMBERED.match(name)
        return f"{self.token(f'before {found[1]}')}-{found[2]}" if found else self.token(name)


def write_tokened(folder: Path) -> TokenedSeason:
    """Writes the example so exchanged, and the season before it, below `folder`."""
    made = TokenedSeason(folder / "season")
    for source, target in ((_SOURCE, made.folder), (_SOURCE / ".season-2025", made.folder / ".season-2025")):
        for path in sorted(source.rglob("*.yaml")):
            below = path.relative_to(source)
            if ".season-2025" in below.parts or "out" in below.parts:
                continue
            _copy_records(made, path, target / below)
        for path in sorted((source / "evidence").rglob("*")):
            if path.is_file():
                _copy_evidence(
                    made, path, target / "evidence" / _file(made, str(path.relative_to(source / "evidence")))
                )
    return made


def _copy_records(made: TokenedSeason, source: Path, target: Path) -> None:
    content = yaml.load(source.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    copied: dict[str, Any] = {}
    for name, value in (content or {}).items():
        if name == "season":
            copied[name] = _exchange(made, load_season_table().fields, value, name)
        else:
            fields = load_tables()[name].fields
            copied[name] = [_exchange(made, fields, record, name) for record in value]
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(yaml.safe_dump(copied, allow_unicode=True, sort_keys=False), encoding="utf-8")


def _exchange(made: TokenedSeason, fields: Mapping[str, Field], record: Any, at: str) -> dict[str, Any]:
    found = {}
    for name, value in record.items():
        inner = fields.get(name)
        if value in ("", None):
            continue
        found[name] = value if inner is None else _exchange_value(made, inner, value, f"{at}.{name}")
    return found


def _exchange_value(made: TokenedSeason, one: Field, value: Any, at: str) -> Any:
    if isinstance(value, list):
        return [_exchange_value(made, one.item or one, part, at) for part in value]
    if isinstance(value, dict):
        if one.fields:
            return _exchange(made, one.fields, value, at)
        item = one.item
        return {
            key: value[key] if item is None else _exchange_value(made, item, value[key], at) for key in value
        }
    leaf = at.rpartition(".")[2]
    if one.kind == "evidence" or leaf in {"evidence", "packet", "non_gm_statement", "search_log"}:
        return _file(made, value)
    if one.kind == "identifier" or leaf in _NAMING:
        return " ".join(part if part == "to" else made.number(part) for part in value.split())
    if one.kind != "text" or at in _KEPT or one.enum or one.dated:
        return value
    if at in _MEASURED:
        east, north = value.split()
        moved = f"{int(east) + 8300} {int(north) + 4700}"
        made.literals.add(moved)
        return moved
    if _has_form(at):
        return value
    token = made.token(value)
    if at in _SHOWN:
        made.shown.add(token)
    return token


def _has_form(at: str) -> bool:
    """Whether a field's text must keep a form of its own, such as a time of day."""
    table, *path = at.split(".")
    part: Any = (load_season_table() if table == "season" else load_tables()[table]).schema
    for name in path:
        part = part.get("items", part)
        part = part.get("properties", {}).get(name) or part.get("additionalProperties") or part
    part = part.get("items", part)
    return str(part.get("pattern", "")).startswith("^")


def _file(made: TokenedSeason, name: str) -> str:
    path = Path(name)
    return f"{made.token(str(path.parent))}/{made.token(path.stem)}{path.suffix}"


def _copy_evidence(made: TokenedSeason, source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    word = made.token(f"inside {source}")
    made.inside.add(word)
    if source.suffix == ".png":
        text = PngImagePlugin.PngInfo()
        text.add_text("Comment", f"taken with {word}")
        Image.new("RGB", (8, 8), (len(word), 90, 30)).save(target, pnginfo=text)
    else:
        target.write_text(f"{word}\n", encoding="utf-8")


# The search

#: How a token begins, as it stands and in hexadecimal.
_BEGINS: Final = re.compile(r"(?=qz|[57]17a|515a|00[57]1007a|0051005a|[57]1007a00|51005a00)")
_DIGITS: Final = re.compile(r"[0-9a-f]{16,}")


def find_leaks(data: bytes, words: set[str]) -> list[str]:
    """Which of the words an output holds in any form in which a reader or a program would find it."""
    pieces = list(_open(data))
    texts = [piece.decode("utf-8", "replace").casefold() for piece in pieces]
    texts += ["".join(text.split()) for text in texts]
    texts += [html.unescape(text) for text in texts if "&" in text]
    texts += [
        piece.decode(code, "replace").casefold() for piece in pieces for code in ("utf-16-le", "utf-16-be")
    ]
    forms = {form: word for word in words for form in _forms(word)}
    digests = {
        hashlib.sha256(text.encode()).hexdigest()[:16]: word for word in words for text in _cases(word)
    }
    sizes = sorted({len(form) for form in forms})
    found = set()
    for text in texts:
        for match in _BEGINS.finditer(text):
            at = match.start()
            found.update(forms[cut] for size in sizes if (cut := text[at : at + size]) in forms)
        for run in _DIGITS.findall(text):
            cuts = (run[at : at + 16] for at in range(len(run) - 15))
            found.update(digests[cut] for cut in cuts if cut in digests)
    plain = [word for word in words if not word.startswith("Qz")]
    return sorted(found | {word for word in plain if any(word.casefold() in text for text in texts)})


def _cases(word: str) -> set[str]:
    return {word, word.lower(), word.upper()}


def _forms(word: str) -> Iterator[str]:
    """A word as text and in hexadecimal; base64 is opened, and so are wide letters."""
    yield word.casefold()
    for text in _cases(word):
        yield text.encode().hex()
        yield text.encode("utf-16-be").hex()
        yield text.encode("utf-16-le").hex()


def _open(data: bytes) -> Iterator[bytes]:
    """An output, and everything inside it."""
    yield data
    if data.startswith(b"%PDF"):
        yield from _open_pdf(data)
    elif data.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for entry in archive.infolist():
                yield entry.filename.encode() + b"\0" + entry.comment
                yield from _open(archive.read(entry))
    else:
        yield from map(_decode_all, range(4), [data] * 4)
        if data[:1] in {b"{", b"["}:
            try:
                yield json.dumps(json.loads(data), ensure_ascii=False).encode()
            except ValueError:
                return


def _decode_all(start: int, data: bytes) -> bytes:
    """Whatever may be base64 in an output, read from its first, second, third or fourth letter on."""
    runs = re.findall(rb"[A-Za-z0-9+/]{12,}", data.replace(b"-", b"+").replace(b"_", b"/"))
    cut = (run[start : len(run) - (len(run) - start) % 4] for run in runs)
    return b"\0".join(base64.b64decode(run) for run in cut)


def _open_pdf(data: bytes) -> Iterator[bytes]:
    document = pypdfium2.PdfDocument(data)
    for page in document:
        yield page.get_textpage().get_text_bounded().encode("utf-8", "replace")
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for thing in pdf.objects:
            if isinstance(thing, pikepdf.Stream):
                try:
                    yield from _open(thing.read_bytes())
                except pikepdf.PdfError:
                    yield thing.read_raw_bytes()
            yield from _strings(thing, 0)


def _strings(thing: Any, depth: int) -> Iterator[bytes]:
    """Every string and name in an object; what it refers to comes by itself."""
    if isinstance(thing, pikepdf.String):
        yield bytes(thing)
        yield str(thing).encode("utf-8", "replace")
    elif isinstance(thing, pikepdf.Name):
        yield str(thing).encode("utf-8", "replace")
    elif depth < 8 and isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
        for name, part in dict(thing.items()).items():
            yield name.encode("utf-8", "replace")
            if not getattr(part, "is_indirect", False):
                yield from _strings(part, depth + 1)
    elif depth < 8 and isinstance(thing, pikepdf.Array):
        for part in thing:
            if not getattr(part, "is_indirect", False):
                yield from _strings(part, depth + 1)
