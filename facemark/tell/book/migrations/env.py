"""Alembic's way in: it runs the steps on the connection that the book hands it, in the book's transaction."""

from __future__ import annotations

from alembic import context

from facemark.tell.book.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    render_as_batch=True,  # SQLite cannot alter a column; batch mode copies the table
    transactional_ddl=False,  # the transaction is the caller's
)
context.run_migrations()
