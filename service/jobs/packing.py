"""Gardens and answers as a row keeps them: JSON, compressed."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable
from typing import Any

from service.encode import to_bytes


def pack(value: Any) -> bytes:
    """A plain value, compressed.

    >>> unpack(pack({"beds": ["kiln"]}))
    {'beds': ['kiln']}
    """
    return zlib.compress(to_bytes(value))


def unpack(data: bytes) -> Any:
    """What was packed."""
    return json.loads(zlib.decompress(data))


def pack_lines(lines: Iterable[bytes]) -> bytes:
    """Lines (without their ends) as compressed NDJSON."""
    return zlib.compress(b"".join(line + b"\n" for line in lines))


def unpack_lines(data: bytes) -> bytes:
    """The NDJSON, each line with its end."""
    return zlib.decompress(data)
