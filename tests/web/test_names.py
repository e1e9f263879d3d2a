"""Names under which this computer may be asked."""

from __future__ import annotations

import ipaddress

import pytest

from bandwright.web.names import Names, is_loopback, lan_addresses, own_names


def test_an_address_counts_where_the_connection_came_in_at_it():
    names = Names(port=8377)
    assert names.allow("192.168.1.20:8377", arrived_at="192.168.1.20")
    assert not names.allow("192.168.1.21:8377", arrived_at="192.168.1.20")
    assert not names.allow("192.168.1.20:8377")
    assert names.allow("[fe80::1]:8377", arrived_at="fe80::1")


def test_the_ordinary_port_need_not_be_written():
    assert Names(port=80).allow("localhost")
    assert Names(port=80).allow("[::1]")
    assert not Names(port=8377).allow("[::1]")


def test_names_that_the_user_adds_are_taken_as_they_are_typed():
    assert "stage.test" in own_names([" Stage.Test "])
    assert "" not in own_names([" "])


@pytest.mark.parametrize(
    ("address", "own"), [("127.0.0.1", True), ("127.9.9.9", True), ("::1", True), ("10.0.0.1", False), (None, False)]
)
def test_loopback_addresses_are_those_of_this_computer(address, own):
    assert is_loopback(address) is own


def test_addresses_on_the_network_are_addresses_and_not_loopback_ones():
    for address in lan_addresses():
        assert not ipaddress.ip_address(address).is_loopback
