"""Statements of the write path, compiled once and handed to the driver as they are.

Every registered statement runs a dozen of them, and running one through the general machinery costs ten times
what the database takes. They are written with the same tables as all other SQL, and fail with the same
errors.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Dialect
from sqlalchemy.exc import DBAPIError

from bailee.frozen import frozen

Row = tuple[Any, ...]


@frozen
class _Compiled:
    """Text for the driver, the names of its parameters in their order (None: they go by name), and those that
    never change.
    """

    text: str
    order: tuple[str, ...] | None
    fixed: dict[str, Any]

    def parameters(self, values: Mapping[str, Any]) -> Any:
        """As the driver wants them."""
        said = {**self.fixed, **values}
        return [said[name] for name in self.order] if self.order else said


class PreparedQuery:
    """A statement that is run often.

    Its columns must hold what the driver knows by itself: numbers, text and bytes.
    """

    def __init__(self, statement: sa.ClauseElement) -> None:
        self._statement: Final = statement
        self._compiled: dict[str, _Compiled] = {}

    def rows(self, connection: Connection, **values: Any) -> list[Row]:
        """Run it; all rows it gives."""
        with self._running(connection) as (cursor, compiled):
            cursor.execute(compiled.text, compiled.parameters(values))
            return list(cursor.fetchall()) if cursor.description else []

    def for_each(self, connection: Connection, rows: Iterable[Mapping[str, Any]]) -> None:
        """Run it once for each of these values; what it gives is not read."""
        with self._running(connection) as (cursor, compiled):
            cursor.executemany(compiled.text, [compiled.parameters(each) for each in rows])

    @contextmanager
    def _running(self, connection: Connection) -> Iterator[tuple[Any, _Compiled]]:
        dialect = connection.dialect
        compiled = self._compiled.get(dialect.name) or self._compile(dialect)
        cursor = connection.connection.cursor()
        try:
            yield cursor, compiled
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
