"""The second part of the demo: an invented clinic on this machine alone, made anew each time."""

from __future__ import annotations

import os
import shutil
import socket
import webbrowser
from dataclasses import replace
from pathlib import Path
from threading import Timer

import click

MARK = "INVENTED.txt"
OPENS_AFTER_S = 1.5


def serve_invented_clinic(folder: Path, *, port: int) -> None:
    """Fill `folder` with the invented clinic, tell who may sign in, open the browser where there is one, and serve.

    The folder is emptied first if an earlier demo has made it; another one is left alone and refused.
    """
    os.environ.pop("QUIETLIMB_DATABASE", None)  # invented animals have no place in a practice's own database
    from quietlimb.clinic import starting
    from quietlimb.clinic.configuration import Configuration
    from quietlimb.engine.errors import QuietlimbError

    configuration = Configuration(data=folder.absolute())
    emptied(folder)
    click.echo("\nAn invented clinic is being made: a dozen animals, two years of sessions ...")
    try:
        starting.set_up(configuration)
        held = starting.hold(configuration)
        (folder / MARK).write_text("Made by the demo, and emptied by the next one. No patients.\n", encoding="utf-8")
        starting.bring_up_to_date()
        from django.utils import timezone

        from quietlimb.clinic.demo.making import invented_clinic_make

        made = invented_clinic_make(timezone.now())
        place = starting.listen(configuration, port=_free(port))
    except QuietlimbError as error:
        raise click.ClickException(f"{error.says}; {error.remedy}") from error
    starting.apply_first_code(replace(configuration, first_code=None))
    address = f"http://localhost:{place.getsockname()[1]}/"
    click.echo(f"The invented clinic answers at {address} and on this machine alone.\n")
    for username, _name, roles in made.people:
        click.echo(f"  {username:10} {roles}")
    click.echo(f"\nAll sign in with the password {made.password} and have the short code {made.short_code}.")
    click.echo("INVENTED: no person and no animal in it exists. Stop it with Ctrl+C.")
    opening = Timer(OPENS_AFTER_S, webbrowser.open, [address])
    opening.daemon = True
    opening.start()
    with held:
        starting.run(configuration, place)


def emptied(folder: Path) -> None:
    """Remove what an earlier demo has made there. Raises ClickException where it was somebody else, or is at work."""
    from quietlimb.clinic import starting
    from quietlimb.clinic.configuration import Configuration, ConfigurationError

    if not folder.exists():
        return
    if any(folder.iterdir()) and not (folder / MARK).exists():
        raise click.ClickException(f"{folder} was not made by the demo; name another place with --out")
    try:
        starting.hold(Configuration(data=folder)).close()
    except ConfigurationError as error:
        raise click.ClickException(f"{error.says}; stop it, or name another place with --out") from error
    shutil.rmtree(folder)


def _free(port: int) -> int:
    """The port that was asked for, or any other where it is taken."""
    with socket.socket() as asked:
        try:
            asked.bind(("127.0.0.1", port))
        except OSError:
            return 0
    return port
