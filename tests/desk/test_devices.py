"""The code on the screen, and the devices that it let in."""

from __future__ import annotations

import pytest

from certgen.desk.devices import CODES, DIGITS, IDLE, MOST, TRIES, WAIT, CodeError, Devices, write_code

AT = "192.168.1.31"


class Clock:
    """A clock that goes on when it is told to."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        """Its time, in seconds."""
        return self.now


def wrong(devices: Devices) -> str:
    """A code of the right length that isn't the one on the screen."""
    return f"{(int(devices.code) + 1) % 10**DIGITS:0{DIGITS}}"


def guess(devices: Devices, times: int, at: str = AT) -> list[str]:
    """What is answered to wrong codes."""
    said = []
    for _ in range(times):
        with pytest.raises(CodeError) as refused:
            devices.try_code(wrong(devices) if devices.code else "", "", at)
        said.append(str(refused.value))
    return said


def test_a_code_lets_one_device_in_and_gives_way():
    """Typed in two halves as it is shown; whoever saw it typed can't use it again."""
    told = []
    devices = Devices(tell=told.append)
    first = devices.code

    word = devices.try_code(write_code(first), "Ana", AT)

    found = devices.find(word, AT)
    assert found is not None
    assert ("Ana", AT) == (found.name, found.address)
    assert [devices.code] == told
    assert first != devices.code
    with pytest.raises(CodeError):
        devices.try_code(first, "", AT)


def test_codes_are_drawn_anew_and_whole():
    """Eight digits, and no two of a few alike."""
    codes = {Devices().code for _ in range(50)}

    assert 50 == len(codes)
    assert all(len(code) == DIGITS and code.isdigit() for code in codes)


@pytest.mark.parametrize("typed", ["", " ", "٠١٢٣٤٥٦٧", "x" * 9000, "\x00"])
def test_what_is_no_code_is_a_wrong_one(typed):
    """Digits of another script are none, and nothing matches a code that isn't there."""
    devices = Devices()

    with pytest.raises(CodeError, match="isn't the code"):
        devices.try_code(typed, "", AT)
    devices.close()
    with pytest.raises(CodeError, match="no more devices"):
        devices.try_code(typed, "", AT)


def test_after_a_few_wrong_tries_there_is_a_new_code_and_everybody_waits():
    """Also at another address, and also with the right code: nothing is looked at before the wait is over."""
    clock = Clock()
    devices = Devices(clock=clock)
    first = devices.code

    said = guess(devices, TRIES)

    assert ["4 more tries", "3 more tries", "2 more tries", "1 more try"] == [
        one.split(". ")[1].rstrip(".") for one in said[:-1]
    ]
    assert first != devices.code
    with pytest.raises(CodeError, match="Wait 60 seconds"):
        devices.try_code(devices.code, "", "192.168.1.99")
    clock.now += WAIT + 1
    assert devices.try_code(devices.code, "", AT)


def test_who_goes_on_guessing_shuts_the_door_until_somebody_opens_it():
    """For everybody who isn't in; those who are stay."""
    clock = Clock()
    devices = Devices(clock=clock)
    word = devices.try_code(devices.code, "", AT)
    for _ in range(CODES):
        guess(devices, TRIES, "192.168.1.66")
        clock.now += WAIT + 1

    assert "" == devices.code
    assert "lets no more devices in" in guess(devices, 1)[0]
    assert [("192.168.1.66", CODES * TRIES)] == devices.list_wrong()
    assert devices.find(word, AT) is not None
    devices.open()
    assert devices.try_code(devices.code, "", AT)


def test_a_word_is_worth_nothing_at_another_address():
    """Somebody who read it on its way isn't let in by it from elsewhere."""
    devices = Devices()
    word = devices.try_code(devices.code, "", AT)

    assert None is devices.find(word, "192.168.1.32")
    assert None is devices.find("", AT)
    assert None is devices.find(word + "x", AT)
    assert None is devices.find("\ud800", AT)


def test_a_device_is_sent_away_alone():
    """The others stay; it comes back by a code only."""
    devices = Devices()
    words = [devices.try_code(devices.code, name, AT) for name in ("", "", "Ben")]

    assert devices.send_away(2)
    assert not devices.send_away(2)
    assert ["Device 1", "Ben"] == [one.name for one, _, _ in devices.list_all()]
    assert [True, False, True] == [devices.find(word, AT) is not None for word in words]


def test_a_device_that_asks_nothing_all_day_is_forgotten():
    """One that asks stays."""
    clock = Clock()
    devices = Devices(clock=clock)
    idle, busy = (devices.try_code(devices.code, name, AT) for name in ("idle", "busy"))
    clock.now += IDLE - 1
    assert devices.find(busy, AT) is not None
    clock.now += 2

    assert None is devices.find(idle, AT)
    assert [("busy", 720, 0)] == [(one.name, since, ago) for one, since, ago in devices.list_all()]


def test_there_is_an_end_to_devices_and_to_their_names():
    """More are refused until one is sent away; a name is short, and of one line."""
    devices = Devices()
    devices.try_code(devices.code, "x\n\u202e y" + "z" * 500, AT)
    for _ in range(MOST - 1):
        devices.try_code(devices.code, "", AT)

    with pytest.raises(CodeError, match="send one away"):
        devices.try_code(devices.code, "", AT)
    name = devices.list_all()[0][0].name
    assert "x yz" == name[:4]
    assert 40 == len(name)


def test_wrong_codes_of_many_addresses_are_told_of_the_last_ones():
    """However many there are."""
    clock = Clock()
    devices = Devices(clock=clock)
    for number in range(30):
        guess(devices, 1, f"fd00::{number:x}")
        clock.now += WAIT + 1

    assert 8 == len(devices.list_wrong())
    assert ("fd00::1d", 1) == devices.list_wrong()[0]
