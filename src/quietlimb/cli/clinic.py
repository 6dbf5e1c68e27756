"""`quietlimb clinic`: looking after the clinic's data. What its commands share with `serve` stands here too."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from quietlimb.clinic.configuration import Configuration

data_option = click.option(
    "--data",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="Where the clinic keeps its data; by default QUIETLIMB_DATA, else this system's folder for a person's data.",
)


@contextmanager
def ready(
    data: Path | None,
    lan_host: str | None = None,
    *,
    up_to_date: bool = True,
    of_a_clinic: bool = False,
    new_authority: bool = False,
) -> Iterator[Configuration]:
    """The clinic's framework, awake, with its tables up to date; what is wrong with that becomes one line.

    of_a_clinic : there has to be one already, with a practice in it; where there is none, nothing is made
    new_authority : as `starting.set_up` takes it
    """
    from django.db.utils import DatabaseError

    from quietlimb.clinic import starting
    from quietlimb.engine.errors import QuietlimbError

    try:
        configuration = starting.configuration_for(data=data, lan_host=lan_host)
        if of_a_clinic:
            starting.refuse_missing(configuration)
        if lan_host is not None:
            starting.refuse_foreign(lan_host)
        starting.set_up(configuration, new_authority=new_authority)
        if of_a_clinic:
            starting.refuse_empty(configuration)
        if up_to_date:
            starting.bring_up_to_date()
        yield configuration
    except QuietlimbError as error:
        raise click.ClickException(f"{error.says}; {error.remedy}") from error
    except DatabaseError as error:
        raise click.ClickException(f"the database cannot be used: {error}") from error


@click.group(short_help="Look after the clinic's data.")
def clinic() -> None:
    """Look after the clinic's data."""


@clinic.command()
@data_option
def verify(data: Path | None) -> None:
    """Walk the journal and the signed values, and name the first that is not as it was written.

    Exit code 3 where one is found.
    """
    with ready(data, of_a_clinic=True):
        _tell_whether_all_is_as_written()


@clinic.command()
@click.argument("name")
@data_option
def practice(name: str, data: Path | None) -> None:
    """Make another practice called NAME, and print the code with which its lead sets it up in the browser.

    The practices of one clinic never see each other's people or animals. The clinic may be running meanwhile. Asked
    again before anybody has come, it prints another code, and the earlier one is void.
    """
    with ready(data, of_a_clinic=True):
        from quietlimb.clinic.people.first_leads import practice_invite

        code = practice_invite(name)
    click.echo(f"The lead of {name.strip()} opens the page /first of the clinic and sets it up with this code: {code}")
    click.echo("It is good for three days.")


@clinic.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@data_option
def backup(file: Path, data: Path | None) -> None:
    """Write everything that the clinic keeps into FILE, which must be new. The clinic may go on working meanwhile.

    The file holds names and pressures in the clear: keep it as you keep your records. Of the teaching room it holds
    the results and the practice's own cases, which the practice keeps, and not the learners' runs on invented
    animals, which have a store of their own.
    """
    with ready(data, of_a_clinic=True):
        from quietlimb.clinic.backup import back_up

        counted = back_up(file)
    click.echo(f"{file} holds {counted.total} rows.")
    click.echo("Not in it: the learners' runs in the teaching room. Their results and the practice's own cases are.")


@clinic.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@data_option
def restore(file: Path, data: Path | None) -> None:
    """Fill an empty data folder, or an empty PostgreSQL database, from a backup, and look whether it is whole.

    Everybody signs in again. Exit code 3 where something is not as it was written.
    """
    with ready(data, up_to_date=False):
        from quietlimb.clinic.backup import restore as take

        counted = take(file)
        click.echo(f"{counted.total} rows are back.")
        _tell_whether_all_is_as_written()


def _tell_whether_all_is_as_written() -> None:
    from quietlimb.clinic.verifying import verify as walk

    found = walk()
    for line in found.counted:
        click.echo(line)
    if found.trouble is not None:
        click.echo(found.trouble, err=True)
        raise click.exceptions.Exit(3)
    click.echo("Everything is as it was written.")
