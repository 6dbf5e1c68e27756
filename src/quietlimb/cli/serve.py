"""`quietlimb serve`: the clinic, as a web application on this machine."""

from __future__ import annotations

from pathlib import Path

import click

from quietlimb.cli.clinic import data_option, ready


@click.command(short_help="The clinic as a web application on this machine.")
@data_option
@click.option("--port", type=click.IntRange(1, 65535), default=8137, show_default=True, help="Where it answers.")
@click.option(
    "--lan",
    "lan_host",
    metavar="NAME",
    help="Name or address under which tablets reach this machine, by TLS only; a certificate is made at first.",
)
@click.option(
    "--new-authority",
    is_flag=True,
    help="Where --lan has another name than before: make another authority, which every tablet has to trust anew.",
)
def serve(data: Path | None, port: int, lan_host: str | None, new_authority: bool) -> None:
    """Start the clinic and keep it running until it is stopped.

    Only this machine reaches it, unless --lan says otherwise. The first time it prints a code, with which the practice
    lead sets up the practice in the browser.
    """
    from quietlimb.clinic import starting

    authority = starting.configuration_for(data=data, lan_host=lan_host).authority_files[0]
    trusted = authority.read_bytes() if authority.exists() else b""
    with ready(data, lan_host, new_authority=new_authority) as configuration:
        held = starting.hold(configuration)
        starting.refuse_unprotected()
        configuration = starting.with_first_code(configuration)
        starting.apply_first_code(configuration)
        place = starting.listen(configuration, port=port)
    scheme, host = ("https", lan_host) if configuration.encrypted else ("http", "localhost")
    click.echo(f"The clinic answers at {scheme}://{host}:{port}/ and keeps its data in {configuration.data}.")
    if configuration.encrypted and configuration.authority_files[0].exists():
        from quietlimb.clinic.certificates import fingerprint

        click.echo(
            f"A tablet has to trust its certificate once: open {scheme}://{host}:{port}/trust there, and compare "
            f"{fingerprint(configuration.authority_files[0])}"
        )
        if trusted and trusted != authority.read_bytes():
            click.echo("This certificate is a new one: every tablet has to trust it before it comes in again.")
    if configuration.first_code:
        click.echo(
            f"Nobody can sign in yet. Open it and set up the practice with this code: {configuration.first_code}"
        )
    click.echo("Stop it with Ctrl+C.")
    with held:
        starting.run(configuration, place)
