"""Keeps what the fact and rule files were read into beside the package's own bytecode.

Reading the YAML takes about as long as everything else that a check from cold does.  The
file lies where Python keeps compiled modules, is named by the digest of the texts and of
the code that reads them, and is only ever a copy: where it cannot be read or written,
the YAML is read.
"""

from __future__ import annotations

import hashlib
import pickle
import sys
from collections.abc import Callable, Mapping
from importlib.resources.abc import Traversable
from importlib.util import cache_from_source
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import TypeVar

Value = TypeVar("Value")


def texts_below(folder: Traversable, ending: str, base: str = "") -> dict[str, str]:
    """Text of every file with an ending below a folder, by its path from there."""
    texts: dict[str, str] = {}
    for entry in sorted(folder.iterdir(), key=lambda e: e.name):
        if entry.is_dir():
            texts |= texts_below(entry, ending, f"{base}{entry.name}/")
        elif entry.name.endswith(ending):
            texts[base + entry.name] = entry.read_text(encoding="utf-8")
    return texts


def digest_of(texts: Mapping[str, str]) -> str:
    """Sixteen hexadecimal digits that change with any name or text."""
    digest = hashlib.sha256()
    for name, text in texts.items():
        digest.update(f"{name}\0{text}\0".encode())
    return digest.hexdigest()[:16]


def remembered(key: str, make: Callable[[], Value]) -> Value:
    """``make()``, or the copy of its value that an earlier process left under the same key."""
    path = Path(cache_from_source(__file__)).with_name(f"knowledge-{sys.implementation.cache_tag}-{key}.pickle")
    try:
        value: Value = pickle.loads(path.read_bytes())
        return value
    except Exception:
        value = make()
    if not sys.dont_write_bytecode:
        _keep(path, value)
    return value


def _keep(path: Path, value: object) -> None:
    """Write a copy whole or not at all; drop those of other digests."""
    try:
        path.parent.mkdir(exist_ok=True)
        for old in path.parent.glob(f"knowledge-{sys.implementation.cache_tag}-*.pickle"):
            old.unlink(missing_ok=True)
        with NamedTemporaryFile(dir=path.parent, prefix="knowledge-", delete=False) as scratch:
            scratch.write(pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL))
        Path(scratch.name).replace(path)
    except OSError:
        return
