"""Carry: pages on their way from a kiosk to the consolidator, and receipts and fresh lists on their way back.

Owns packets, enrolment, the network client and the stick.
Must not know how a reading is judged or where the consolidator keeps what it gets.
"""

from kiosk.carry.contacts import Contact, ListsRequest
from kiosk.carry.enrolment import Enrolment, kiosk_keys
from kiosk.carry.fresh_lists import lists_version, take_lists
from kiosk.carry.keys import Keys
from kiosk.carry.packets import CarriedBook, Packet, PacketHeader, make_packets, read_packet
from kiosk.carry.receipts import Receipt, last_receipt, runs_to_carry

__all__ = [
    "CarriedBook",
    "Contact",
    "Enrolment",
    "Keys",
    "ListsRequest",
    "Packet",
    "PacketHeader",
    "Receipt",
    "kiosk_keys",
    "last_receipt",
    "lists_version",
    "make_packets",
    "read_packet",
    "runs_to_carry",
    "take_lists",
]
