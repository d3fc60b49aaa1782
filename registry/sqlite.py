"""Put the newer bundled SQLite in place of the interpreter's own, where it is installed.

Every interpreter here links SQLite 3.40, whose write-ahead log can be corrupted on reset
(3.7.0 to 3.51.2); the bundled one is newer. Django asks two things of a connection that the
bundled module lacks, so they are added here.
"""

import sqlite3 as original
import sys
from types import ModuleType
from typing import Any

# SQLite's own default limits (sqlite.org/limits.html): parameters and columns of one statement.
_LIMIT_VARIABLES, _LIMIT_COLUMNS = 9, 2
_DEFAULTS = {_LIMIT_VARIABLES: 32_766, _LIMIT_COLUMNS: 2_000}

try:
    import pysqlite3 as bundled  # type: ignore[import-untyped,import-not-found,unused-ignore]  # why: it has no stubs, and exists on Linux only
except ImportError:  # not on this platform: the interpreter's own is used
    bundled = None


def install() -> type | None:
    """Make `import sqlite3` give the bundled module, and return the connection class to use."""
    if bundled is None:
        return None

    class Connection(bundled.Connection):  # type: ignore[misc,name-defined,unused-ignore]  # why: no stubs
        """A connection that knows its limits."""

        def getlimit(self, category: int, /) -> int:
            """Give the limit of this category, as SQLite is built by default."""
            return _DEFAULTS[category]

    module: Any = bundled
    module.SQLITE_LIMIT_VARIABLE_NUMBER = _LIMIT_VARIABLES
    module.SQLITE_LIMIT_COLUMN = _LIMIT_COLUMNS
    for name in dir(original):
        if name.startswith("SQLITE_") and not hasattr(module, name):
            setattr(module, name, getattr(original, name))
    modules: dict[str, ModuleType] = sys.modules
    modules["sqlite3"] = module
    modules["sqlite3.dbapi2"] = module.dbapi2
    return Connection
