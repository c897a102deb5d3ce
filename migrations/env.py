"""Alembic's door: one connection, the tables of `bailee.store.schema`."""

from alembic import context
from sqlalchemy import create_engine

from bailee.store.schema import metadata


def run() -> None:
    connection = context.config.attributes.get("connection")
    if connection is None:
        url = context.get_x_argument(as_dictionary=True).get("url") or context.config.get_main_option(
            "sqlalchemy.url"
        )
        connection = create_engine(url).connect()
    context.configure(connection=connection, target_metadata=metadata, render_as_batch=False)
    with context.begin_transaction():
        context.run_migrations()


run()
