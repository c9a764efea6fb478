"""The codes on bag tags that lead to the desk, and the numbers of tags that are numbered beforehand.

Without a desk a tag's code is the plain number of its bag or tree. With one it is the address of a page that
asks the season: a bag on record is shown, another one is entered with what the tag says of it.
"""

from __future__ import annotations

from dataclasses import replace
from ipaddress import IPv4Address, IPv6Address, ip_address
from typing import TYPE_CHECKING
from urllib.parse import urlencode, urlsplit

from certgen.exchange.field_paper.labels import Label, LabelError

if TYPE_CHECKING:
    from collections.abc import Container, Sequence

    from certgen.examination import Result


def read_desk(text: str) -> str:
    """The address of a desk as `certgen desk --phones` prints it, without a stroke behind. Raises
    `LabelError`.
    """
    like = "write it as `certgen desk --phones --port 8017` prints it: http://192.168.1.20:8017"
    try:
        parts = urlsplit(text.strip())
        host, port = ip_address(parts.hostname or ""), parts.port
    except ValueError:
        raise LabelError(f"'{text}' is no desk's address; {like}") from None
    plain = f"http://{parts.netloc}" == text.strip().rstrip("/") and "@" not in parts.netloc
    if parts.scheme != "http" or not plain or not port:
        raise LabelError(f"'{text}' is no desk's address; {like}")
    if host.is_loopback or host.is_unspecified:
        raise LabelError(f"at {host} a phone finds itself and not the desk; {like}")
    if not _is_of_a_farm(host):
        raise LabelError(
            f"{host} is no address of a private network, and at no other is there a desk; {like}"
        )
    return f"http://{parts.netloc}"


def _is_of_a_farm(host: IPv4Address | IPv6Address) -> bool:
    return host.is_private or host.is_link_local


def lead_to_bag(desk: str, bag: str, tree: str = "") -> str:
    """The address at a desk of a bag by what its tag says: the bag's number, its tree, or both."""
    told = {"bag": bag, "tree": tree}
    return f"{desk}/bag?{urlencode({name: value for name, value in told.items() if value})}"


def mark_tags(result: Result, tags: Sequence[Label], *, desk: str = "", first: str = "") -> tuple[Label, ...]:
    """The tags, numbered from `first` on if that is given, their codes leading to `desk` if that is.

    Raises `LabelError`, also where a tag bears the number of a bag on record already.
    """
    marked = list(tags)
    if first:
        if any(tag.bag for tag in tags):
            raise LabelError("tags of bags on record bear their numbers already; leave out --bag or --first")
        taken = {str(bag) for bag in result.case.season.tables["bagging"]["bag"].tolist()}
        numbers = number_tags(first, len(tags), taken)
        marked = [_number_tag(tag, number) for tag, number in zip(tags, numbers, strict=True)]
    if desk:
        address = read_desk(desk)
        marked = [
            replace(tag, code=lead_to_bag(address, tag.bag, tag.tree)) if tag.bag or tag.tree else tag
            for tag in marked
        ]
    return tuple(marked)


def _number_tag(tag: Label, number: str) -> Label:
    """The tag with its bag's number where there was a line to write it on."""
    lines = tuple((name, number if name == "Bag" else value) for name, value in tag.lines)
    return replace(tag, lines=lines, code=number, bag=number)


def number_tags(first: str, count: int, taken: Container[str]) -> list[str]:
    """The numbers of so many tags: `B26-153`, `B26-154` …

    Raises `LabelError` where they can't be counted on from `first`, or where a bag bears one of them already.
    """
    head = first.rstrip("0123456789")
    digits = first[len(head) :]
    if not digits or len(digits) > 12 or not first.isprintable() or first != first.strip():
        raise LabelError(f"'{first}' ends in no number to count on from; write it like B26-153")
    numbers = [f"{head}{number:0{len(digits)}}" for number in range(int(digits), int(digits) + count)]
    borne = next((number for number in numbers if number in taken), "")
    if borne:
        raise LabelError(f"bag {borne} is on record already; begin after the last number that a tag bears")
    return numbers
