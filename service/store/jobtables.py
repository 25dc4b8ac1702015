"""The tables of long work: a job, and the chunks that it is done in.

These rows are the truth about it.  A message or a process may be lost or come twice; whoever holds
a chunk is whoever its row says.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, LargeBinary, String, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from service.store.tables import Base

JOB_STATES = ("open", "done", "cancelled")
#: The rules of a job that was half done when jobs had none: it goes on with whatever a worker has.
ANY_RULES = ""
CHUNK_STATES = ("waiting", "running", "done", "cancelled")
_OPEN = text("lease_until IS NOT NULL")


def _one_of(column: str, words: tuple[str, ...]) -> str:
    return f"{column} IN ({', '.join(map(repr, words))})"


class Job(Base):
    """Work over many gardens that a club asked for."""

    __tablename__ = "jobs"
    id: Mapped[str] = mapped_column(String(16), primary_key=True)
    club_id: Mapped[str] = mapped_column(ForeignKey("clubs.id"), index=True)
    token_id: Mapped[str | None] = mapped_column(ForeignKey("tokens.id"))
    kind: Mapped[str] = mapped_column(String(16))
    state: Mapped[str] = mapped_column(String(16))
    #: What all gardens share, packed (``service.jobs.packing``).
    shared: Mapped[bytes] = mapped_column(LargeBinary)
    gardens: Mapped[int]
    answered: Mapped[int]
    failed: Mapped[int]
    open_chunks: Mapped[int]
    created_at: Mapped[datetime]
    #: The rule set of every answer so far; null until somebody begins.
    rules: Mapped[str | None] = mapped_column(String(40))
    #: When work by that rule set began.
    ruled_at: Mapped[datetime | None]
    #: How often it was begun again, because nobody with its rule set was left.
    restarts: Mapped[int] = mapped_column(server_default="0")
    #: When it was done or cancelled; what is kept is kept from then on.
    finished_at: Mapped[datetime | None] = mapped_column(index=True)
    __table_args__ = (CheckConstraint(_one_of("state", JOB_STATES), name="state"),)


class Chunk(Base):
    """Some gardens of a job: what one worker takes at a time."""

    __tablename__ = "chunks"
    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("jobs.id"))
    #: The place of its first garden in the job, from 0.
    first: Mapped[int]
    gardens: Mapped[int]
    state: Mapped[str] = mapped_column(String(16))
    #: From then on anyone may claim it: the past for a chunk that waits, null for one that is over.
    lease_until: Mapped[datetime | None]
    #: Counts the claims.  Who finishes a chunk must know it: a worker that lost its lease does not.
    tries: Mapped[int]
    #: Claims that ended with the death of a process.
    faults: Mapped[int]
    worker: Mapped[str | None] = mapped_column(String(80))
    #: The gardens, packed; gone when the job is over.
    work: Mapped[bytes | None] = mapped_column(LargeBinary)
    #: The lines of the answer, packed.
    result: Mapped[bytes | None] = mapped_column(LargeBinary)
    __table_args__ = (
        UniqueConstraint("job_id", "first"),
        CheckConstraint(_one_of("state", CHUNK_STATES), name="state"),
        CheckConstraint("(lease_until IS NULL) = (state IN ('done', 'cancelled'))", name="lease"),
        # The order in which chunks are claimed, without those that are over.
        Index(
            "ix_chunks_open",
            "first",
            "id",
            sqlite_where=_OPEN,
            postgresql_where=_OPEN,
        ),
        {"sqlite_autoincrement": True},
    )
