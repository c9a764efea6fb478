"""What a verification found: one answer a question, each with what it shows and what it leaves open."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal

from certgen.manifest import write_fingerprint

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

#: `holds`; `fails`; `unknown`: asked, and couldn't be told here; `unasked`: left out, or nothing to ask.
Verdict = Literal["holds", "fails", "unknown", "unasked"]

_RANK: Final = {"fails": 0, "unknown": 1, "holds": 2, "unasked": 3}


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to one question about a packet.

    `subject` names the question in a word, `says` is the answer in a sentence, `details` are the places that
    it rests on, `shows` and `leaves` what is known now, and what still isn't.
    """

    subject: str
    verdict: Verdict
    says: str
    details: tuple[str, ...] = ()
    shows: str = ""
    leaves: str = ""


@dataclass(slots=True)
class Verification:
    """All answers about one packet, in the order in which they were asked.

    `manifest` is the one inside and `sha256` stands for its bytes; `extract` is what `verify_bytes` was asked
    to take from the result while it was there.
    """

    manifest: Mapping[str, Any] = field(default_factory=dict)
    sha256: str = ""
    answers: list[Answer] = field(default_factory=list)
    extract: Any = None

    @property
    def fingerprint(self) -> str:
        """What the packet's pages should bear at their foot."""
        return write_fingerprint(self.sha256)

    @property
    def verdict(self) -> Verdict:
        """The worst of all answers."""
        return min((one.verdict for one in self.answers), key=_RANK.__getitem__, default="unasked")

    @property
    def sound(self) -> bool:
        """Whether nothing that was asked fails or stayed unknown."""
        return self.verdict not in {"fails", "unknown"}

    @property
    def faults(self) -> tuple[str, ...]:
        """Every detail of what fails or stayed unknown, the question's word in front."""
        return tuple(
            f"{answer.subject.lower()}: {words}"
            for answer in self.answers
            if answer.verdict in {"fails", "unknown"}
            for words in answer.details or (answer.says,)
        )

    def add(
        self,
        subject: str,
        verdict: Verdict,
        says: str,
        details: Sequence[str] = (),
        *,
        shows: str = "",
        leaves: str = "",
    ) -> None:
        """Put an answer behind those that are there."""
        self.answers.append(Answer(subject, verdict, says, tuple(details), shows, leaves))
