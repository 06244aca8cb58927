"""UUIDs: version 7 for what people and phones see, version 5 for rows that can be rebuilt."""

import secrets
import time
from uuid import UUID, uuid5

DERIVED_NAMESPACE = UUID("6f1d3f0e-3a0b-5a55-9b1e-7a1c5b0d2e11")


def uuid7() -> UUID:
    """Return a time-ordered UUID (RFC 9562, version 7). Never a secret, and its time is never trusted."""
    milliseconds = time.time_ns() // 1_000_000
    value = (milliseconds & ((1 << 48) - 1)) << 80 | secrets.randbits(80)
    value = value & ~(0xF << 76) | 0x7 << 76
    value = value & ~(0x3 << 62) | 0x2 << 62
    return UUID(int=value)


def derived_uid(*natural_key: object) -> UUID:
    """Return the same UUID for the same natural key, so a rebuilt row keeps its identity."""
    return uuid5(DERIVED_NAMESPACE, "\x1f".join(str(part) for part in natural_key))
