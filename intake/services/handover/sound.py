"""Text from outside made inert for the formats that leave the house, and names for files that no text can steer."""

import hashlib
import re
import unicodedata

_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TURNING = dict.fromkeys(map(ord, "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"), "\ufffd")
_LONGEST = 10_000
_NAME_LONG = 60


def sound(text: str) -> str:
    """Text that XML 1.0 and JSON may hold, without what turns the order of writing, at most 10,000 characters."""
    if text.isprintable():  # none of them is
        return text[:_LONGEST]
    return _NO_XML.sub("\ufffd", text.translate(_TURNING))[:_LONGEST]


def file_name(text: str) -> str:
    """A file name for a box, piece or consignment: plain letters and digits; the same text always gives the same.

    Where anything was left out, a short digest tells it from others.
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    kept = re.sub("[^A-Za-z0-9-]+", "-", plain).strip("-")[:_NAME_LONG]
    return kept if kept == text else f"{kept or 'x'}-{hashlib.sha256(text.encode('utf-8', 'replace')).hexdigest()[:8]}"
