"""Everything that a clinic keeps in its database, in one file that any database of ours can take.

The file is a ZIP archive: `about.json`, and for each kind of row one member with a JSON object of its columns a line,
in the order of the keys. So a clinic can move from the file of one practice to the PostgreSQL of a group, and two
backups of the same rows have the same members. Not in it: the secret of the data folder, certificates, who is signed
in, counts of vain tries to sign in, and the learners' store; of teaching only what the practice keeps: results and its
own cases.

A backup of an older version is restored as that version had its tables, and then changed as an update would.
"""

from __future__ import annotations

import base64
import json
import os
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, models, transaction
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.version import ENGINE_VERSION

FORMAT = 1
ROOMS = "quietlimb.clinic."
LEFT_OUT = frozenset({"people.attempts", "people.knownaddress"})
ABOUT = "about.json"
AT_ONCE = 200  # rows; of recordings, which are large, one


class BackupError(QuietlimbError):
    """The backup cannot be made, or not be taken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """How many rows of each kind."""

    rows: dict[str, int]

    @property
    def total(self) -> int:
        """Of all kinds."""
        return sum(self.rows.values())


def back_up(path: Path) -> Counted:
    """Write everything into a new file that its owner alone may read. The clinic may go on working meanwhile.

    Raises BackupError where there is such a file already, or it cannot be written.
    """
    if path.exists():
        raise BackupError("there-already", f"{path} is there already", "name a new file")
    half = path.with_name(path.name + ".part")
    rows: dict[str, int] = {}
    try:
        with (
            os.fdopen(os.open(half, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b") as file,
            zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive,
            _one_moment(),
        ):
            for model in _kept(apps):
                rows[model._meta.label_lower] = _write(archive, model)
            archive.writestr(ABOUT, json.dumps(_about(rows), indent=1))
        with half.open("rb") as written:
            os.fsync(written.fileno())
        half.rename(path)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise BackupError(
            "not-written", f"{path} cannot be written ({error.strerror})", "name another place"
        ) from error
    return Counted(rows=rows)


def restore(path: Path) -> Counted:
    """Fill an empty database from a backup, and bring its tables up to date.

    Raises BackupError where the file is none, is not whole or of a newer version, or the database is not empty.
    """
    with _opened(path) as (archive, about):
        executor = MigrationExecutor(connection)
        if connection.introspection.table_names():
            raise BackupError("not-empty", "there are tables in this database already", "name an empty data folder")
        then = [(app, name) for app, name in about["migrations"]]
        newer = [f"{app} {name}" for app, name in then if (app, name) not in executor.loader.disk_migrations]
        if newer:
            raise BackupError(
                "newer-backup", f"a newer version made this backup ({', '.join(newer)})", "restore it with that version"
            )
        try:
            executor.migrate(then)
            as_then = executor.loader.project_state(then).apps
            with transaction.atomic():
                for model in _kept(as_then):
                    _read(archive, model, about)
            MigrationExecutor(connection).migrate(executor.loader.graph.leaf_nodes())
        except (DatabaseError, ValidationError, ValueError, KeyError, TypeError, AttributeError) as error:
            raise BackupError(
                "not-taken", f"the backup could not be taken ({error})", "start again with an empty data folder"
            ) from error
    return Counted(rows=dict(about["rows"]))


@contextmanager
def _one_moment() -> Iterator[None]:
    """All rows as they are at one moment, without keeping anybody from writing."""
    begin = "BEGIN" if connection.vendor == "sqlite" else "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
    with connection.cursor() as cursor:
        cursor.execute(begin)
        try:
            yield
        finally:
            cursor.execute("ROLLBACK")


def _kept(found: Any) -> list[type[models.Model]]:
    """The kinds of rows that belong into a backup, by name."""
    ours = {config.label for config in apps.get_app_configs() if config.name.startswith(ROOMS)}
    kept = [model for model in found.get_models() if model._meta.app_label in ours]
    return sorted(
        (model for model in kept if model._meta.label_lower not in LEFT_OUT), key=lambda model: model._meta.label_lower
    )


def _about(rows: dict[str, int]) -> dict[str, Any]:
    applied = MigrationExecutor(connection).loader
    ours = {config.label for config in apps.get_app_configs()}
    leaves = [
        list(node) for node in applied.graph.leaf_nodes() if node[0] in ours and node in applied.applied_migrations
    ]
    return {
        "format": FORMAT,
        "quietlimb": ENGINE_VERSION,
        "made_at": timezone.now().isoformat(),
        "migrations": sorted(leaves),
        "rows": rows,
    }


def _write(archive: zipfile.ZipFile, model: type[models.Model]) -> int:
    names = sorted(field.attname for field in model._meta.concrete_fields)
    count = 0
    with archive.open(_member(model), "w", force_zip64=True) as member:
        rows = model._default_manager.order_by("pk").values_list(*names)
        for row in rows.iterator(chunk_size=_at_once(model)):
            told = {name: _plain(value) for name, value in zip(names, row, strict=True)}
            member.write(json.dumps(told, ensure_ascii=True, allow_nan=False).encode("ascii") + b"\n")
            count += 1
    return count


def _read(archive: zipfile.ZipFile, model: type[models.Model], about: dict[str, Any]) -> None:
    label = model._meta.label_lower
    fields = {field.attname: field for field in model._meta.concrete_fields}
    made: list[models.Model] = []
    count = 0
    with archive.open(_member(model)) as member:
        for line in member:
            made.append(model(**{name: fields[name].to_python(value) for name, value in json.loads(line).items()}))
            count += 1
            if len(made) >= _at_once(model):
                model._default_manager.bulk_create(made)
                made = []
    model._default_manager.bulk_create(made)
    if count != about["rows"][label]:
        raise ValueError(f"{label} has {count} rows, not {about['rows'][label]}")


def _at_once(model: type[models.Model]) -> int:
    large = any(isinstance(field, models.BinaryField) for field in model._meta.concrete_fields)
    return 1 if large else AT_ONCE


def _member(model: type[models.Model]) -> str:
    return f"{model._meta.label_lower}.jsonl"


def _plain(value: object) -> object:
    """A column as JSON can hold it, to the last microsecond and the last digit."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, date | UUID):
        return value.isoformat() if isinstance(value, date) else str(value)
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(value).decode("ascii")
    return value


@contextmanager
def _opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, dict[str, Any]]]:
    """The archive, once it is known to be whole and ours."""
    try:
        with zipfile.ZipFile(path) as archive:
            broken = archive.testzip()
            if broken is not None:
                raise BackupError("not-whole", f"{broken} in {path} is not as it was written", "take another backup")
            about = json.loads(archive.read(ABOUT))
            if not isinstance(about, dict) or about.get("format") != FORMAT:
                raise BackupError(
                    "unknown-format", f"{path} is of another format", "restore it with the version that made it"
                )
            yield archive, about
    except FileNotFoundError as error:
        raise BackupError("not-found", f"there is no file {path}", "check the name") from error
    except (OSError, zipfile.BadZipFile, zlib.error, KeyError, ValueError) as error:
        raise BackupError("no-backup", f"{path} is no backup of a clinic", "name a file of clinic backup") from error
