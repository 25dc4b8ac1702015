"""What every command shares: files in, text out, exit status, the size of the page."""

from __future__ import annotations

import os
import shutil
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

USAGE, BAD_INPUT, NO_INPUT, FAILURE, BAD_OUTPUT = 64, 65, 66, 70, 74
#: Above every limit of the readers, which say what the limit is.
MOST_BYTES = 8 * 1024 * 1024


class Stop(Exception):
    """Ends the command: a message for standard error and the exit status."""

    def __init__(self, message: str, status: int) -> None:
        super().__init__(message)
        self.message, self.status = message, status


def put(text: str | bytes) -> bool:
    """Write to standard output; False when the reader has gone away, which is no error.

    Raises
    ------
    Stop
        when the output cannot be written (a full disk).
    """
    stream = sys.stdout
    if stream is None:  # closed before the program began
        raise Stop("cannot write the output: it is closed", BAD_OUTPUT)
    data = text.encode(stream.encoding or "utf-8", "replace") if isinstance(text, str) else text
    try:
        stream.flush()
        stream.buffer.write(data)
        stream.buffer.flush()
    except BrokenPipeError:
        # What is still buffered would fail again when the interpreter shuts down.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        return False
    except OSError as error:
        raise Stop(f"cannot write the output: {error.strerror or error}", BAD_OUTPUT) from None
    return True


def read_bytes(path: str) -> bytes:
    """The bytes of a file or, for "-", of standard input."""
    if path == "-" and sys.stdin is None:  # closed before the program began
        raise Stop("standard input: it is closed", NO_INPUT)
    try:
        if path == "-":
            return sys.stdin.buffer.read(MOST_BYTES)
        with open(path, "rb") as file:
            return file.read(MOST_BYTES)
    except OSError as error:
        raise Stop(f"{path}: {error.strerror or error}", NO_INPUT) from None


def read_text(path: str) -> str:
    """The text of a UTF-8 file."""
    data = read_bytes(path)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise Stop(f"{path}:{line}: not UTF-8 text", BAD_INPUT) from None


def load_knowledge(overlay: str | None = None) -> Knowledge:
    """What is known, changed by an overlay file where one is given."""
    import rules
    from service.memory import settle

    knowledge = rules.load_knowledge()
    settle()
    if overlay is None:
        return knowledge
    from rules.knowledge.yamlfile import load

    text = read_text(overlay)
    try:
        return rules.load_knowledge(overlay=load(text, overlay))
    except ValueError as error:  # YamlError or KnowledgeError; both name file:line:column
        raise Stop(str(error), BAD_INPUT) from None


def colour_wanted() -> bool:
    """True on a terminal that shows colours, unless NO_COLOR says otherwise."""
    terminal = sys.stdout is not None and sys.stdout.isatty()
    return terminal and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def page_width() -> int:
    """Columns to fill: those of the terminal, at most 80."""
    return max(40, min(80, shutil.get_terminal_size((80, 24)).columns))
