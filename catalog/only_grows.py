"""Tables that only grow: the database itself refuses to rewrite what was done.

Released migrations call this, therefore never edited: what changes later is a migration of its own.
"""

from __future__ import annotations

from sqlalchemy import Connection

_STATEMENTS = {
    "sqlite": (
        """CREATE TRIGGER {table}_never_updated BEFORE UPDATE ON {table}
        BEGIN SELECT RAISE(ABORT, '{rows} are never changed'); END""",
        """CREATE TRIGGER {table}_never_deleted BEFORE DELETE ON {table}
        BEGIN SELECT RAISE(ABORT, '{rows} are never deleted'); END""",
    ),
    "postgresql": (
        """CREATE FUNCTION {table}_only_grows() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN RAISE EXCEPTION '{rows} are never changed or deleted'; END $$""",
        """CREATE TRIGGER {table}_never_touched
        BEFORE UPDATE OR DELETE OR TRUNCATE ON {table}
        FOR EACH STATEMENT EXECUTE FUNCTION {table}_only_grows()""",
    ),
}
"""Dialect -> what forbids every change but a new row."""


def let_only_grow(connection: Connection, table: str, *, rows: str) -> None:
    """Let a table take new rows and nothing else.

    Parameters
    ----------
    connection : Connection
    table : str
        Its name.
    rows : str
        What its rows are, in the plural, for the message.
    """
    for statement in _STATEMENTS[connection.dialect.name]:
        connection.exec_driver_sql(statement.format(table=table, rows=rows))
