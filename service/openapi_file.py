"""The OpenAPI document as a file: ``python -m service.openapi_file --write`` writes ``openapi/openapi.yaml``.

A test holds the file to the application.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from service.app import build
from service.config import Config
from service.openapi_doc import document

FILE = Path(__file__).parent.parent / "openapi" / "openapi.yaml"


@cache
def _document() -> dict[str, Any]:
    return document(build(Config(checks_per_minute=0)))


def openapi_yaml() -> str:
    """The document as YAML text, the same for the same code."""
    text = yaml.dump(_document(), Dumper=_Plain, sort_keys=False, allow_unicode=True, width=100)
    return f"# Written by: python -m service.openapi_file --write\n{text}"


class _Plain(yaml.SafeDumper):
    """Writes shared values out instead of using anchors."""

    def ignore_aliases(self, data: Any) -> bool:
        """No value is written as a reference to an earlier one."""
        return True


def _text(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    style = "|" if "\n" in text else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Plain.add_representer(str, _text)


if __name__ == "__main__":
    if "--write" in sys.argv[1:]:
        FILE.write_text(openapi_yaml(), encoding="utf-8")
    else:
        sys.stdout.write(openapi_yaml())
