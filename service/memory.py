"""How a process of ours collects garbage, once what it keeps for good is loaded."""

from __future__ import annotations

import gc

#: New objects before the youngest are looked over. A plan makes its rows at once and drops them
#: at once, without cycles; with Python's 700 a large plan is walked over many times for nothing.
THRESHOLD = 50_000


def settle() -> None:
    """Leave all that is loaded out of later collections, and collect seldom."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(THRESHOLD)
