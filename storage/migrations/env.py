"""Alembic's environment: runs on the connection that it is handed."""

from __future__ import annotations

from alembic import context
from sqlmodel import SQLModel

from storage import tables

assert tables.Patient.metadata is SQLModel.metadata

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=SQLModel.metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
