"""From nothing to a clinic that answers: data folder, secret, database, tables, server."""

from __future__ import annotations

import os
import secrets
import signal
import socket
import sys
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

from quietlimb.clinic.configuration import Configuration, ConfigurationError

# Without letters and digits that are mistaken for one another.
CODE_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"


def configuration_for(*, data: Path | None, lan_host: str | None) -> Configuration:
    """What the environment tells, with what the command line says instead."""
    told = Configuration.from_environment()
    return replace(told, data=data.absolute() if data else told.data, lan_host=lan_host)


def refuse_missing(configuration: Configuration) -> None:
    """See that a clinic is kept there, before anything is made. ConfigurationError where none is."""
    kept = configuration.database_url is not None or configuration.database_file.exists()
    if not (kept and configuration.secret_file.exists()):
        raise _no_clinic(f"there is no clinic in {configuration.data}")


def refuse_empty(configuration: Configuration) -> None:
    """See that a practice is in its database. ConfigurationError where none is, so that nothing is taken for all."""
    from django.db import connection

    from quietlimb.clinic.people.models import Practice

    there = Practice._meta.db_table in connection.introspection.table_names()
    if not (there and Practice.objects.exists()):
        raise _no_clinic(f"nobody has set up a practice in the clinic in {configuration.data}")


def _no_clinic(says: str) -> ConfigurationError:
    return ConfigurationError("no-clinic", says, "name the folder of yours with --data")


def hold(configuration: Configuration) -> BinaryIO:
    """Take the data folder for this process, as long as what is returned stays open.

    The system lets it go however the process ends. Raises ConfigurationError where another process has it.
    """
    file = (configuration.data / "served").open("a+b")
    try:
        if sys.platform == "win32":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        file.close()
        raise ConfigurationError(
            "served-already",
            f"the clinic in {configuration.data} is being served already",
            "use the one that runs, or stop it first; another clinic has another folder, named with --data",
        ) from error
    return file


def refuse_foreign(lan_host: str) -> None:
    """See that a name or address is one of this machine, before a certificate is made for it.

    Raises ConfigurationError where it is not.
    """
    remedy = "name this machine as the network knows it, or its own address, with --lan"
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(lan_host, 0, type=socket.SOCK_STREAM)[0]
    except (OSError, UnicodeError) as error:
        raise ConfigurationError("unknown-name", f"the network knows no {lan_host}", remedy) from error
    try:
        with socket.socket(family, kind, protocol) as place:
            place.bind(address)
    except OSError as error:
        raise ConfigurationError("foreign-name", f"{lan_host} is not a name of this machine", remedy) from error


def set_up(configuration: Configuration, *, new_authority: bool = False) -> None:
    """Prepare the data folder and wake the framework with this configuration. Once in a process.

    new_authority : tablets may have to trust another certificate, where the name is another one than before
    """
    import django

    os.umask(0o077)  # whatever is written from here on is for its owner alone
    configuration.prepare()
    if configuration.encrypted:  # nothing about animals and owners goes over a network in the clear
        from quietlimb.clinic import certificates

        certificates.ensure(configuration, new_authority=new_authority)
    os.environ.update(configuration.environment())
    os.environ["DJANGO_SETTINGS_MODULE"] = "quietlimb.clinic.settings"
    django.setup()


def bring_up_to_date() -> None:
    """Make or change the tables.

    Raises ConfigurationError where a newer Quietlimb has changed them: this one would not know what it writes into.
    """
    from django.core.management import call_command
    from django.db import connection
    from django.db.migrations.loader import MigrationLoader

    from quietlimb.clinic.stores import PRACTICE, TEACHING

    loader = MigrationLoader(connection)
    unknown = sorted(f"{app} {name}" for app, name in set(loader.applied_migrations) - set(loader.disk_migrations))
    if unknown:
        raise ConfigurationError(
            "newer-database",
            f"a newer version has used this database ({', '.join(unknown)})",
            "start that version, or restore the backup that was made before it",
        )
    for store in (PRACTICE, TEACHING):
        call_command("migrate", database=store, verbosity=0, interactive=False)


def refuse_unprotected() -> None:
    """See that the database protects what stands for good; ConfigurationError where it does not."""
    from django.db import connection

    from quietlimb.clinic.journal.protection import unprotected

    bare = unprotected(connection)
    if bare:
        raise ConfigurationError(
            "unprotected",
            f"the database does not protect {', '.join(bare)} against changes",
            "restore a backup, and find out who changed the database",
        )


def with_first_code(configuration: Configuration) -> Configuration:
    """The same with a new one-time code where nobody can sign in yet."""
    from quietlimb.clinic.people.signing_in import first_lead_is_missing

    if not first_lead_is_missing():
        return replace(configuration, first_code=None)
    letters = "".join(secrets.choice(CODE_LETTERS) for _ in range(8))
    return replace(configuration, first_code=f"{letters[:4]}-{letters[4:]}")


def apply_first_code(configuration: Configuration) -> None:
    """Let the pages know the code: it is in memory only, and another start makes another."""
    from django.conf import settings

    settings.CONFIGURATION = configuration


def listen(configuration: Configuration, *, port: int) -> socket.socket:
    """The place where it will answer, taken before anybody is told of it.

    Raises ConfigurationError where it cannot be had.
    """
    host = configuration.lan_host or "127.0.0.1"
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        place = socket.socket(family, kind, protocol)
        if os.name == "posix":  # after a stop the place is free at once; elsewhere this would let two share it
            place.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        place.bind(address)
        place.listen()
    except OSError as error:
        raise ConfigurationError(
            "no-place", f"nothing can answer at {host}, port {port} ({error.strerror})", "name another one with --port"
        ) from error
    return place


def run(configuration: Configuration, place: socket.socket) -> None:
    """Answer until stopped. One process answers: the database has one owner, and answers are remembered in memory."""
    import uvicorn

    from quietlimb.clinic.process_beside import a_process_beside

    certificate, key = configuration.certificate_files
    told = uvicorn.Config(
        "quietlimb.clinic.asgi:application",
        lifespan="off",  # the framework has no handler for it
        timeout_keep_alive=30,  # longer than between two readings
        timeout_graceful_shutdown=1,  # a browser that listens for news would hold the server for ever
        access_log=False,  # addresses of pages tell who was looked at
        log_level="warning",
        server_header=False,
        proxy_headers=False,
        ssl_certfile=str(certificate) if configuration.encrypted else None,
        ssl_keyfile=str(key) if configuration.encrypted else None,
    )
    # The server gives the signal that stopped it on, once it has stopped: told to terminate, it ends as by Ctrl+C.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with suppress(KeyboardInterrupt), a_process_beside():  # Ctrl+C is how it is stopped
        uvicorn.Server(told).run(sockets=[place])
