"""What a column map may be as YAML: bounded in depth, nothing in it said twice, no word with two meanings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from certgen.exchange.importing.column_evidence import fold
from certgen.exchange.importing.column_maps import MapError

#: A map is three deep, and a list in it has one more.
_DEEPEST: Final = 20
#: A constant is laid into every row.
_LONGEST: Final = 1_000


def hold_shape(name: str, tokens: Iterable[Any]) -> None:  # PyYAML's tokens
    """Refuse what stands for more than it says: references to references, brackets without end."""
    import yaml

    deep = 0
    opening = (yaml.BlockMappingStartToken, yaml.BlockSequenceStartToken, yaml.FlowMappingStartToken,
               yaml.FlowSequenceStartToken)  # fmt: skip
    closing = (yaml.BlockEndToken, yaml.FlowMappingEndToken, yaml.FlowSequenceEndToken)
    for token in tokens:
        deep += isinstance(token, opening) - isinstance(token, closing)
        if deep > _DEEPEST:
            raise MapError(f"{name}: its lists lie deeper in one another than a column map's do")
        if isinstance(token, yaml.AliasToken):
            raise MapError(f"{name}: refers to another place with `*`; write out what is meant")


def hold_keys_once(name: str, node: Any) -> None:  # PyYAML's node
    """Refuses what is said twice: of two answers the first would be passed over in silence."""
    import yaml

    if isinstance(node, yaml.SequenceNode):
        for part in node.value:
            hold_keys_once(name, part)
    if isinstance(node, yaml.MappingNode):
        seen: set[str] = set()
        for key, value in node.value:
            said = str(key.value)
            if said in seen:
                line = key.start_mark.line + 1
                raise MapError(f"{name}: line {line}: '{said[:60]}' is said twice; let one of them stand")
            seen.add(said)
            hold_keys_once(name, value)


def hold_words(where: str, words: Mapping[str, str]) -> None:
    """Refuses a word that means two things, as cells are compared with it, and texts of endless length."""
    meant: dict[str, str] = {}
    for typed, word in words.items():
        if len(word) > _LONGEST:
            raise MapError(f"{where}: '{typed[:40]}' stands for a text of over {_LONGEST} signs; shorten it")
        first = meant.setdefault(fold(typed), word)
        if first != word:
            raise MapError(
                f"{where}: '{typed[:40]}' means '{first[:40]}' and '{word[:40]}'; let one of them stand"
            )
