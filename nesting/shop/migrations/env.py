"""Runs migrations on the connection that is handed in, inside its transaction."""

from __future__ import annotations

from alembic import context

context.configure(connection=context.config.attributes["connection"], version_table="rack_version")
context.run_migrations()
