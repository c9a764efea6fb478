"""At which addresses phones may reach the desk."""

from __future__ import annotations

from ipaddress import ip_address

import pytest

from certgen.desk import network
from certgen.desk.network import AddressError, find_addresses, is_private, write_host


@pytest.fixture
def own(monkeypatch):
    """Gives this machine the addresses of a test."""

    def give(*addresses: str) -> None:
        monkeypatch.setattr(network, "list_own", lambda: [ip_address(one) for one in addresses])

    return give


@pytest.mark.parametrize(
    "address", ["10.0.0.1", "172.16.0.1", "172.31.255.1", "192.168.1.20", "169.254.3.4", "fd12::1", "fc00::1"]
)
def test_private_addresses_are_those_that_no_router_passes_on(address):
    """RFC 1918, RFC 3927, RFC 4193."""
    assert is_private(ip_address(address))


@pytest.mark.parametrize(
    "address",
    ["8.8.8.8", "172.32.0.1", "100.64.0.1", "192.0.2.2", "127.0.0.1", "0.0.0.0", "224.0.0.1",
     "255.255.255.255", "::", "::1", "2001:db8::1", "fe80::1", "::ffff:192.168.1.2", "ff02::1"],
)  # fmt: skip
def test_no_other_is(address):
    """Public ones, a carrier's, everything at once, this machine's loopback, an IPv4 address in disguise."""
    assert not is_private(ip_address(address))


def test_public_addresses_are_left_out_and_the_usual_kind_comes_first(own):
    """The desk is never opened to the world because the machine is."""
    own("8.8.8.8", "fd00::2", "172.17.0.1", "192.168.1.20", "fe80::1", "10.2.3.4")

    assert ("192.168.1.20", "10.2.3.4", "172.17.0.1", "fd00::2") == find_addresses()


@pytest.mark.parametrize(
    ("has", "wanted", "says"),
    [((), "", "no address in a private network. Join"),
     (("8.8.8.8",), "", "it has 8.8.8.8"),
     (("192.168.1.20",), "8.8.8.8", "isn't an address of a private network"),
     (("192.168.1.20",), "0.0.0.0", "isn't an address of a private network"),
     (("192.168.1.20",), "127.0.0.1", "isn't an address of a private network"),
     (("192.168.1.20",), "192.168.1.21", "isn't this machine's own; it has 192.168.1.20"),
     (("192.168.1.20",), "farm.local", "'farm.local' is no address"),
     (("192.168.1.20",), "192.168.1.20:80", "is no address")],
)  # fmt: skip
def test_where_there_is_none_it_is_said(own, has, wanted, says):
    """With what to do."""
    own(*has)

    with pytest.raises(AddressError, match=says):
        find_addresses(wanted)


def test_one_address_can_be_chosen(own):
    """As it stands in a URL too."""
    own("192.168.1.20", "fd00::2")

    assert ("fd00::2",) == find_addresses("[fd00::2]")
    assert ("[fd00::2]", "192.168.1.20") == (write_host("fd00::2"), write_host("192.168.1.20"))


def test_this_machine_s_loopback_is_no_address_of_its_network():
    """Whatever interfaces it has."""
    assert not any(address.is_loopback for address in network.list_own())
