"""How a process of ours collects garbage.

A plan makes its rows at once and drops them at once, without cycles; with Python's threshold
of 700 new objects all that lives is walked over many times for nothing.
"""

from __future__ import annotations

import gc

#: New objects before the youngest are looked over.
THRESHOLD = 50_000


def seldom() -> None:
    """Collect seldom from now on; early in a process it makes the imports cheaper too."""
    gc.set_threshold(THRESHOLD)


def settle() -> None:
    """Leave all that is loaded by now out of later collections."""
    gc.freeze()
