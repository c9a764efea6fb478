"""Packets that tests lay into evidence: what a verified one shows, written down as it is.

To make a real packet takes seconds. Where a test asks what a packet does to the season that names it, the
file holds the answer of its verification in JSON, and `StandIns` takes it as it stands.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec
import yaml

from certgen.records.supplied import SuppliedPacket
from certgen.rules.example_seasons import EXAMPLES


def packet(**told: Any) -> dict[str, Any]:
    """What the sound packet of the rules' examples shows, but for what is told."""
    sound = yaml.safe_load((EXAMPLES / "packet.yaml").read_text(encoding="utf-8"))
    return {**sound, **told}


def packet_text(**told: Any) -> str:
    """The same as the text of a file."""
    return json.dumps(packet(**told), default=str)


class StandIns:
    """A reader of packets that believes what a file says, and counts what it was asked for."""

    def __init__(self) -> None:
        self.read: list[str] = []

    def __call__(self, path: Path) -> SuppliedPacket:
        """What the file tells."""
        self.read.append(path.name)
        try:
            return msgspec.json.decode(path.read_bytes(), type=SuppliedPacket)
        except msgspec.DecodeError:
            return msgspec.convert(
                {"operation": {"name": ""}, "faults": ("it is no packet",)}, SuppliedPacket
            )

    def replaced_by(self, path: Path) -> str:
        """The packet whose place it takes, by its own word."""
        try:
            return str(json.loads(path.read_bytes()).get("replaces", ""))
        except ValueError:
            return ""
