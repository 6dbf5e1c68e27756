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
    """The tables that lack a trigger; none should."""
    if connection.vendor == "sqlite":
        question = "SELECT tbl_name || ' ' || name FROM sqlite_master WHERE type = 'trigger'"
    else:
        question = (
            "SELECT c.relname || ' ' || t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE t.tgenabled <> 'D'"
        )
    with connection.cursor() as cursor:
        cursor.execute(question)
        there = {row[0] for row in cursor.fetchall()}
    ends = ("no_update", "no_delete") if connection.vendor == "sqlite" else ("no_change", "no_truncate")
    return [table for table in PROTECTED if not {f"{table} {table}_{end}" for end in ends} <= there]
