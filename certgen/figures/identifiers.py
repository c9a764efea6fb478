"""The unique identifiers of transgenic events, and their check digit."""

from __future__ import annotations

import re

_BODY = re.compile(r"[A-Z]{2,3}-[A-Z0-9Ø]{5,6}", re.ASCII)
_WHOLE = re.compile(rf"({_BODY.pattern})-([0-9])")


def check_digit(body: str) -> int:
    """The check digit of an identifier without its last dash and digit, as `CUH-CP551` (8).

    Letters count by their place in the alphabet, digits as they are, Ø as nothing; all are added, and the
    digits of the sum again until one is left. OECD unique identifier guidance; verified on seven
    identifiers. Raises ValueError if the text is not two or three letters, a dash, and letters or digits to
    nine in all.
    """
    text = body.strip().upper()
    if not _BODY.fullmatch(text) or len(text.replace("-", "")) != 8:
        raise ValueError(
            f"'{body}' is not the body of a unique identifier: two or three letters for the owner, a dash, "
            "and letters or digits, eight characters without the dash."
        )
    total = sum(_count_character(character) for character in text)
    return 1 + (total - 1) % 9


def _count_character(character: str) -> int:
    if "A" <= character <= "Z":
        return ord(character) - ord("A") + 1
    return int(character) if character.isdecimal() else 0


def verify_identifier(identifier: str) -> bool:
    """Whether the identifier's last digit is its check digit: CUH-CP551-8 is right, UFL-X17CP-6 is wrong.

    Raises ValueError if it has not the form of a unique identifier at all.
    """
    match = _WHOLE.fullmatch(identifier.strip().upper())
    if match is None:
        raise ValueError(
            f"'{identifier}' is not a unique identifier such as CUH-CP551-8: three parts with dashes."
        )
    return check_digit(match[1]) == int(match[2])
