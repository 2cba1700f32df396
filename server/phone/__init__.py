"""The phone's door: a second listener on the local network, through which one phone brings photographs and no more."""

from server.phone.address import AddressError, lan_address, taken_address
from server.phone.door import Door
from server.phone.limits import PhoneLimits
from server.phone.session import Session

__all__ = ["AddressError", "Door", "PhoneLimits", "Session", "lan_address", "taken_address"]
