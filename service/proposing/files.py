"""The proposal and the other plans as files, so that what was shown can be taken as it is, without a second search."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from service.proposing.document import document_yaml, proposed_document
from service.terminal import BAD_OUTPUT, Stop

if TYPE_CHECKING:
    from rules.planning.propose import Proposal
    from service.proposing.question import Question


def named(proposal: Proposal, folder: Path) -> Iterator[tuple[Path, Proposal]]:
    """The proposal as ``proposal.yaml``, its other plans as ``other-1.yaml`` and so on."""
    yield folder / "proposal.yaml", proposal
    for number, other in enumerate(proposal.alternatives, 1):
        yield folder / f"other-{number}.yaml", other


def write(question: Question, proposal: Proposal, folder: Path) -> list[Path]:
    """Write them all; nothing that is there already is written over.

    Raises
    ------
    service.terminal.Stop
        where one is there already or cannot be written.
    """
    written = []
    for path, one in named(proposal, folder):
        text = document_yaml(proposed_document(question, one))
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
        except FileExistsError:
            raise Stop(f"{path} is there already; nothing is written over. Name another folder.", BAD_OUTPUT) from None
        except OSError as error:
            raise Stop(f"{path}: {error.strerror or error}", BAD_OUTPUT) from None
        written.append(path)
    return written


def ready(folder: Path, alternatives: int) -> None:
    """Stop before the search where a file of this name is there already."""
    names = ("proposal.yaml", *(f"other-{number + 1}.yaml" for number in range(alternatives)))
    there = next((folder / name for name in names if (folder / name).exists()), None)
    if there is not None or (folder.exists() and not folder.is_dir()):
        said = f"{there or folder} is there already; nothing is written over. Name another folder."
        raise Stop(said, BAD_OUTPUT)
