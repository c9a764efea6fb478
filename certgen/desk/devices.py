"""The devices that were let in by the code on the screen, and the code of the next one.

A code lets in one device and then gives way to another, so that nobody who saw it typed can use it too. It
can be tried a few times only: then there is a new one, and everybody waits. Somebody who goes on guessing for
all the tries that there are before the desk lets nobody in any more finds a code once in two million desks.
"""

from __future__ import annotations

import hmac
import secrets
import time
from contextvars import ContextVar
from dataclasses import dataclass
from hashlib import sha256
from math import ceil
from threading import Lock
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

#: Digits of a code: what a thumb types without looking for letters.
DIGITS: Final = 8
#: Wrong tries after which there is a new code, and how long nobody is let in then, in seconds.
TRIES: Final = 5
WAIT: Final = 60.0
#: So many codes may be used up by wrong tries; then somebody at the screen has to let devices in again.
CODES: Final = 10
#: More devices than a farm takes to the rows.
MOST: Final = 20
#: A device that asked nothing for so long has to be let in again, in seconds.
IDLE: Final = 12 * 60 * 60.0
#: How much of a device's name is kept, and of how many addresses wrong tries are told.
_NAME, _TOLD = 40, 8


@dataclass(slots=True)
class Device:
    """A device that was let in: its number, whose it is as far as that was said, its address; when it was let
    in and last asked for something, in seconds of the clock.
    """

    number: int
    person: str
    address: str
    let_in: float
    asked: float

    @property
    def name(self) -> str:
        """What it is called where devices are told apart."""
        return self.person or f"Device {self.number}"


#: The device that asks, while its request is answered; None for a browser of this machine.
ASKING: Final[ContextVar[Device | None]] = ContextVar("ASKING", default=None)


class CodeError(ValueError):
    """A code that lets nobody in; the message says why and what to do."""


class Devices:
    """Who was let in over the network, for as long as the program runs.

    `addresses` are what a device is to open. `tell` is handed each code after the first; an empty one lets
    nobody in.
    """

    def __init__(
        self,
        addresses: Sequence[str] = (),
        tell: Callable[[str], None] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.addresses = tuple(addresses)
        self._tell: Callable[[str], None] | None = None
        self._clock = clock
        self._lock = Lock()
        self._devices: dict[bytes, Device] = {}
        self._last = 0
        self._waits_until = 0.0
        self._used_up = 0
        #: Wrong tries by address, the latest last.
        self._wrong: dict[str, int] = {}
        self._tries = 0
        self.code = ""
        #: Changes with whatever the screen has to show anew.
        self.revision = 0
        self._renew()
        self._tell = tell

    def try_code(self, typed: str, name: str, address: str) -> str:
        """Lets a device in and gives the word by which it is known from now on. Raises `CodeError`."""
        with self._lock:
            self._forget_idle()
            self._refuse_all()
            digits = "".join(sign for sign in typed if sign in "0123456789")
            if not hmac.compare_digest(digits.encode(), self.code.encode()):
                self._count_wrong(address)
            word = secrets.token_urlsafe(24)
            self._last += 1
            called = " ".join("".join(filter(str.isprintable, name)).split())[:_NAME].strip()
            now = self._clock()
            self._devices[_seal(word)] = Device(self._last, called, address, now, now)
            self._renew()
            return word

    def _refuse_all(self) -> None:
        """Raises `CodeError` while no code lets anybody in."""
        if not self.code:
            raise CodeError(
                "The desk lets no more devices in. At its computer, under Phones, they can be again."
            )
        left = self._waits_until - self._clock()
        if left > 0:
            raise CodeError(f"Too many wrong codes. Wait {ceil(left)} seconds, then type the new code.")
        if len(self._devices) >= MOST:
            raise CodeError(f"{MOST} devices are in already. At the desk's computer, send one away first.")

    def _count_wrong(self, address: str) -> None:
        """Raises `CodeError` after what a wrong code brings with it."""
        self._wrong[address] = self._wrong.pop(address, 0) + 1
        while len(self._wrong) > _TOLD:
            del self._wrong[next(iter(self._wrong))]
        self._tries += 1
        self.revision += 1
        if self._tries < TRIES:
            left = TRIES - self._tries
            raise CodeError(
                f"That isn't the code on the screen. {left} more {'try' if left == 1 else 'tries'}."
            )
        self._used_up += 1
        self._waits_until = self._clock() + WAIT
        if self._used_up >= CODES:
            self._put_code("")
            raise CodeError("Too many wrong codes: the desk lets no more devices in.")
        self._renew()
        raise CodeError(
            f"Too many wrong codes. Wait {WAIT:.0f} seconds, then type the new code on the screen."
        )

    def find(self, word: str, address: str) -> Device | None:
        """The device that bears a word, at the address at which it was let in; None if there is none."""
        with self._lock:
            self._forget_idle()
            device = self._devices.get(_seal(word))
            if device is None or device.address != address:
                return None
            device.asked = self._clock()
            return device

    def _forget_idle(self) -> None:
        oldest = self._clock() - IDLE
        for seal in [seal for seal, device in self._devices.items() if device.asked < oldest]:
            del self._devices[seal]
            self.revision += 1

    def list_all(self) -> list[tuple[Device, int, int]]:
        """Each device with the whole minutes since it was let in and since it last asked."""
        with self._lock:
            self._forget_idle()
            now = self._clock()
            return [
                (one, int((now - one.let_in) // 60), int((now - one.asked) // 60))
                for one in self._devices.values()
            ]

    def list_wrong(self) -> list[tuple[str, int]]:
        """The addresses from which a wrong code came and how often, the latest first."""
        with self._lock:
            return list(reversed(self._wrong.items()))

    def send_away(self, number: int) -> bool:
        """Whether there was such a device; from now on it is let in by a code only."""
        with self._lock:
            gone = [seal for seal, device in self._devices.items() if device.number == number]
            for seal in gone:
                del self._devices[seal]
                self.revision += 1
            return bool(gone)

    def open(self) -> None:
        """Lets devices in by a new code, as often as it takes."""
        with self._lock:
            self._used_up, self._waits_until = 0, 0.0
            self._wrong.clear()
            self._renew()

    def close(self) -> None:
        """Lets no more devices in; those that are in stay."""
        with self._lock:
            self._put_code("")

    def _renew(self) -> None:
        self._put_code(f"{secrets.randbelow(10**DIGITS):0{DIGITS}}")

    def _put_code(self, code: str) -> None:
        self.code, self._tries = code, 0
        self.revision += 1
        if self._tell is not None:
            self._tell(code)


def write_code(code: str) -> str:
    """A code as people read it out: in two halves."""
    return f"{code[: DIGITS // 2]} {code[DIGITS // 2 :]}" if code else ""


def _seal(word: str) -> bytes:
    """By which a device is found: how long it takes tells nothing of the words there are."""
    return sha256(word.encode("utf-8", "replace")).digest()
