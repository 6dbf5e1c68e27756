"""Triggers by which the database itself refuses to change or remove what is to stand for good."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

PROTECTED = ("journal_entry", "measuring_signedvalue", "measuring_amendment")

_POSTGRESQL_FUNCTION = """
CREATE OR REPLACE FUNCTION quietlimb_refuse() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION '% stands for good', TG_TABLE_NAME; END $$
"""


def statements(vendor: str, table: str) -> list[str]:
    """The SQL that protects one table; running it again does no harm."""
    if vendor == "sqlite":
        return [
            f"CREATE TRIGGER IF NOT EXISTS {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{table} stands for good'); END"
            for verb in ("UPDATE", "DELETE")
        ]
    return [
        _POSTGRESQL_FUNCTION,
        f"CREATE OR REPLACE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION quietlimb_refuse()",
        f"CREATE OR REPLACE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION quietlimb_refuse()",
    ]


def protect(*tables: str) -> Callable[[Any, Any], None]:
    """For a migration's RunPython: protect these tables.

    A later migration that changes one of them on SQLite makes the table anew, without its triggers, and has to run
    this again; `unprotected` finds it where that was forgotten.
    """

    def run(_apps: Any, schema_editor: Any) -> None:
        for table in tables:
            for statement in statements(schema_editor.connection.vendor, table):
                schema_editor.execute(statement, params=None)  # a percent sign is one

    return run


def unprotected(connection: BaseDatabaseWrapper) -> list[str]:
    """The tables that lack a trigger, or have another one under its name; none should."""
    if connection.vendor == "sqlite":
        question = "SELECT sql FROM sqlite_master WHERE type = 'trigger'"
    else:
        # Fired in ordinary work, at the right events, by our own function.
        question = (
            "SELECT t.tgname || ' ' || t.tgtype FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid "
            "WHERE t.tgenabled IN ('O', 'A') AND p.proname = 'quietlimb_refuse' AND p.prosrc LIKE '%RAISE EXCEPTION%'"
        )
    with connection.cursor() as cursor:
        cursor.execute(question, None)
        there = {row[0] for row in cursor.fetchall()}
    return [table for table in PROTECTED if not _told_of(connection.vendor, table) <= there]


def _told_of(vendor: str, table: str) -> set[str]:
    """What the database tells of a table's triggers."""
    if vendor == "sqlite":
        return {statement.replace("IF NOT EXISTS ", "") for statement in statements(vendor, table)}
    # pg_trigger.tgtype: each row 1, before 2, delete 8, update 16, truncate 32
    return {f"{table}_no_change 27", f"{table}_no_truncate 34"}
