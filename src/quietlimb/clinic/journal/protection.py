"""Triggers by which the database itself refuses to change or remove what is to stand for good."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

from quietlimb.clinic.stores import TEACHING

# What a reading says; a slip of the finger is struck through, which changes other columns.
SAID_BY_A_READING = (
    "id",
    "practice_id",
    "series_id",
    "client_id",
    "ordinal",
    "taken_at",
    "saved_at",
    "saved_by_id",
    "typed_by_id",
    "systolic",
    "mean",
    "diastolic",
    "pulse_rate",
    "recording_id",
    "spoiled",
)
# All of a comparison but whether it is still to be used.
SAID_BY_A_COMPARISON = (
    "id",
    "practice_id",
    "name",
    "made_by_id",
    "made_at",
    "file_name",
    "sha256",
    "content",
    "plan_name",
    "plan_sha256",
    "plan",
    "chosen",
    "engine",
    "results",
)
# All of a conversion but whether it is still to be shown.
SAID_BY_A_CONVERSION = (
    "id",
    "practice_id",
    "instrument_id",
    "brought_by_id",
    "brought_at",
    "file_name",
    "sha256",
    "content",
    "fingerprint",
    "study",
    "version",
)
# Of these tables some columns may change; all other columns stand, and so does the row.
PARTLY = {
    "measuring_reading": SAID_BY_A_READING,
    "comparisons_comparison": SAID_BY_A_COMPARISON,
    "conversions_broughtconversion": SAID_BY_A_CONVERSION,
}
PROTECTED = (
    "journal_entry",
    "measuring_signedvalue",
    "measuring_amendment",
    "equipment_check",
    "equipment_decision",
    *PARTLY,
)

_POSTGRESQL_FUNCTION = """
CREATE OR REPLACE FUNCTION quietlimb_refuse() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION '% stands for good', TG_TABLE_NAME; END $$
"""


def statements(vendor: str, table: str) -> list[str]:
    """The SQL that protects one table; running it again does no harm."""
    if vendor == "sqlite":
        when = {"UPDATE": _differs(table, "{old} IS NOT {new}"), "DELETE": ""}
        return [
            f"CREATE TRIGGER IF NOT EXISTS {table}_no_{verb.lower()} BEFORE {verb} ON {table} {condition}"
            f"BEGIN SELECT RAISE(ABORT, '{table} stands for good'); END"
            for verb, condition in when.items()
        ]
    function = _postgresql_function(table)
    return [
        _POSTGRESQL_FUNCTION,
        *([_postgresql_partly(table)] if table in PARTLY else []),
        f"CREATE OR REPLACE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION {function}()",
        f"CREATE OR REPLACE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION quietlimb_refuse()",
    ]


def _differs(table: str, as_written: str) -> str:
    """The condition that a column which stands is changed; empty where all of them stand."""
    if table not in PARTLY:
        return ""
    differing = " OR ".join(as_written.format(old=f"OLD.{name}", new=f"NEW.{name}") for name in PARTLY[table])
    return f"WHEN {differing} "


def _postgresql_function(table: str) -> str:
    return f"quietlimb_refuse_{table}" if table in PARTLY else "quietlimb_refuse"


def _postgresql_partly(table: str) -> str:
    differing = _differs(table, "{old} IS DISTINCT FROM {new}").removeprefix("WHEN ")
    return f"""
CREATE OR REPLACE FUNCTION {_postgresql_function(table)}() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN
  IF TG_OP = 'UPDATE' THEN
    IF NOT ({differing}) THEN RETURN NEW; END IF;
  END IF;
  RAISE EXCEPTION '% stands for good', TG_TABLE_NAME;
END $$
"""


def protect(*tables: str) -> Callable[[Any, Any], None]:
    """For a migration's RunPython: protect these tables.

    A later migration that changes one of them on SQLite makes the table anew, without its triggers, and has to run
    this again; `unprotected` finds it where that was forgotten. In the learners' store, where letting time pass moves
    what has happened into the past, readings are not protected.
    """

    def run(_apps: Any, schema_editor: Any) -> None:
        for table in tables:
            if table in PARTLY and schema_editor.connection.alias == TEACHING:
                continue
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
            "SELECT t.tgname || ' ' || t.tgtype || ' ' || p.proname FROM pg_trigger t "
            "JOIN pg_proc p ON p.oid = t.tgfoid WHERE t.tgenabled IN ('O', 'A') AND p.prosrc LIKE '%RAISE EXCEPTION%'"
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
    return {f"{table}_no_change 27 {_postgresql_function(table)}", f"{table}_no_truncate 34 quietlimb_refuse"}
