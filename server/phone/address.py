"""The address at which a phone on the same network finds this machine."""

import ipaddress
import socket

__all__ = ["AddressError", "lan_address", "taken_address"]

# RFC 5737 and RFC 3849: addresses for documentation. Nothing is sent there: the system only tells which of its own
# addresses it would send from.
_SOMEWHERE = ((socket.AF_INET, "203.0.113.1"), (socket.AF_INET6, "2001:db8::1"))


class AddressError(ValueError):
    """No address that could be listened on; its words are for the person."""


def lan_address() -> str:
    """The address of the interface with the default route. AddressError where there is none, or it is a public one."""
    for family, there in _SOMEWHERE:
        with socket.socket(family, socket.SOCK_DGRAM) as asking:
            try:
                asking.connect((there, 9))
            except OSError:
                continue
            found = ipaddress.ip_address(asking.getsockname()[0])
        if found.is_unspecified or found.is_loopback:
            continue
        if found.is_global:
            raise AddressError(
                "This machine's address is a public one: anyone could reach the phone's page. "
                "Join a private network, or give the address to use."
            )
        return str(found)
    raise AddressError("This machine is on no network that a phone could reach. Join one, or give the address to use.")


def taken_address(text: str) -> str:
    """An address that was given, in its shortest form. AddressError where no listener of one machine has such one."""
    try:
        given = ipaddress.ip_address(text)
    except ValueError:
        raise AddressError("Give an address of this machine, such as 192.168.1.20.") from None
    if given.is_unspecified or given.is_multicast:
        raise AddressError("Give one address of this machine, not all of them.")
    return str(given)
