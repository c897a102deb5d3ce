"""The database's clock: the one clock that all hosts of a log share, whatever their own say."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement


class now_ms(FunctionElement[int]):  # noqa: N801 - an SQL function
    """Milliseconds since 1970 at the moment the statement runs, not when its transaction began."""

    type = sa.BigInteger()
    inherit_cache = True


@compiles(now_ms)
def _elsewhere(_element: now_ms, _compiler: Any, **_options: Any) -> str:
    return "CAST(EXTRACT(EPOCH FROM clock_timestamp()) * 1000 AS BIGINT)"


@compiles(now_ms, "sqlite")
def _sqlite(_element: now_ms, _compiler: Any, **_options: Any) -> str:
    return "CAST((julianday('now') - 2440587.5) * 86400000.0 AS INTEGER)"
