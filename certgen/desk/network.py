"""At which of this machine's own addresses devices of the farm's network may reach the desk."""

from __future__ import annotations

from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from socket import AF_INET, AF_INET6
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

#: Networks that no router passes on to the rest of the world, the one of most farms first: RFC 1918, 3927 and
#: 4193. The link's own IPv6 addresses aren't among them: a browser can't be told which link is meant.
_PRIVATE: Final = tuple(
    map(
        ip_network,
        ("192.168.0.0/16", "10.0.0.0/8", "172.16.0.0/12", "169.254.0.0/16", "fc00::/7"),
    )
)


#: Where nobody but this machine reaches it.
LOOPBACK: Final = "127.0.0.1"


class AddressError(ValueError):
    """No address at which the desk may be reached; the message says why and what to do."""


def find_addresses(wanted: str = "") -> tuple[str, ...]:
    """The private addresses of this machine, the most usual kind first; only `wanted` where that is given.

    Raises `AddressError` where there is none, or where `wanted` is another kind of address or not this
    machine's.
    """
    own = list_own()
    private = sorted((one for one in own if is_private(one)), key=_rank)
    if wanted:
        return (_choose(wanted, private),)
    if not private:
        has = f" (it has {', '.join(map(str, own))})" if own else ""
        raise AddressError(
            f"This machine has no address in a private network{has}. Join it to the farm's network first: "
            "the desk is never opened to a public one."
        )
    return tuple(map(str, private))


def _choose(wanted: str, private: Iterable[IPv4Address | IPv6Address]) -> str:
    try:
        address = ip_address(wanted.strip("[]"))
    except ValueError:
        raise AddressError(
            f"'{wanted}' is no address; write one of this machine's own, like 192.168.1.20."
        ) from None
    if not is_private(address):
        raise AddressError(
            f"{address} isn't an address of a private network (192.168.…, 10.…, 172.16.… to 172.31.…, "
            "169.254.…, fd…), and at no other may a phone reach the desk."
        )
    known = ", ".join(map(str, private))
    if address not in private:
        raise AddressError(f"{address} isn't this machine's own{f'; it has {known}' if known else ''}.")
    return str(address)


def is_private(address: IPv4Address | IPv6Address) -> bool:
    """Whether an address is one of a network that no router passes on."""
    return any(address in network for network in _PRIVATE)


def _rank(address: IPv4Address | IPv6Address) -> tuple[int, int]:
    return next(place for place, network in enumerate(_PRIVATE) if address in network), int(address)


def list_own() -> list[IPv4Address | IPv6Address]:
    """The addresses of this machine's interfaces that are up, its loopback's left out."""
    import psutil

    up = {name for name, state in psutil.net_if_stats().items() if state.isup}
    found = [
        ip_address(one.address.partition("%")[0])
        for name, addresses in psutil.net_if_addrs().items()
        if name in up
        for one in addresses
        if one.family in {AF_INET, AF_INET6}
    ]
    return [address for address in found if not address.is_loopback]


def write_host(address: str) -> str:
    """An address as it stands in a URL."""
    return f"[{address}]" if ":" in address else address
