"""Statements of the write path, compiled once and handed to the driver as they are.

Every registered statement runs nine of them, and running one through the general machinery costs ten times what the database takes.
They are written with the same tables as all other SQL, and fail with the same errors.
"""

from __future__ import annotations

from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Dialect
from sqlalchemy.exc import DBAPIError

from bailee.frozen import frozen

Row = tuple[Any, ...]


@frozen
class _Compiled:
    """Text for the driver, the names of its parameters in their order (None: they go by name), and those that never change."""

    text: str
    order: tuple[str, ...] | None
    fixed: dict[str, Any]


class Prepared:
    """A statement that is run often. Its columns must hold what the driver knows by itself: numbers, text and bytes."""

    def __init__(self, statement: sa.ClauseElement) -> None:
        self._statement: Final = statement
        self._compiled: dict[str, _Compiled] = {}

    def rows(self, connection: Connection, **values: Any) -> list[Row]:
        """Run it; all rows it gives."""
        dialect = connection.dialect
        compiled = self._compiled.get(dialect.name) or self._compile(dialect)
        said = {**compiled.fixed, **values}
        cursor = connection.connection.cursor()
        try:
            cursor.execute(compiled.text, [said[name] for name in compiled.order] if compiled.order else said)
            return list(cursor.fetchall()) if cursor.description else []
        except dialect.loaded_dbapi.Error as error:
            raise DBAPIError.instance(
                compiled.text, None, error, dialect.loaded_dbapi.Error, hide_parameters=True, dialect=dialect
            ) from error
        finally:
            cursor.close()

    def row(self, connection: Connection, **values: Any) -> Row | None:
        """Run it; the first row, None when there is none."""
        found = self.rows(connection, **values)
        return found[0] if found else None

    def value(self, connection: Connection, **values: Any) -> Any:
        """Run it; the first column of the first row, None when there is none."""
        found = self.rows(connection, **values)
        return found[0][0] if found else None

    def _compile(self, dialect: Dialect) -> _Compiled:
        compiled: Any = self._statement.compile(dialect=dialect)
        fixed = {name: value for name, value in compiled.params.items() if value is not None}
        self._compiled[dialect.name] = _Compiled(
            str(compiled), tuple(compiled.positiontup) if compiled.positional else None, fixed
        )
        return self._compiled[dialect.name]
