"""A look at a HEIC file's list of items before its reader sees it.

pi_heif 1.4 ends the whole process where an item's type or name is no text: a fault that no ``except`` can
catch. ISO/IEC 14496-12 8.11.6: after version, flags, item number and protection index, an ``infe`` box holds
nothing but text, all of it UTF-8.
"""

from __future__ import annotations

ITEM = b"infe"
TEXT_AT = {
    2: 8,
    3: 10,
}  # bytes after the box's name where its text begins, by version; older ones name no type


def names_are_text(data: bytes) -> bool:
    """Whether every item of a HEIC file's ``meta`` box is named in text; without one there are none."""
    listing = _meta_box(data)
    at = listing.find(ITEM)
    while at >= 4:
        size = int.from_bytes(listing[at - 4 : at], "big")
        inside = listing[at + 4 : max(at - 4 + size, at + 4 + 14)]
        try:
            inside[TEXT_AT.get(inside[0] if inside else 0, len(inside)) :].decode("utf-8")
        except UnicodeDecodeError:
            return False
        at = listing.find(ITEM, at + 4)
    return True


def _meta_box(data: bytes) -> bytes:
    """The first ``meta`` box; all of the file where its boxes do not follow each other as they should."""
    at = 0
    while at + 8 <= len(data):
        size, name = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        if size == 1:  # the size is too large for four bytes and follows the name
            size = int.from_bytes(data[at + 8 : at + 16], "big")
        if size < 8 or at + size > len(data):
            break
        if name == b"meta":
            return data[at : at + size]
        at += size
    return data
