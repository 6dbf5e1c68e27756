"""The command `quietlimb` and its subcommands."""

from __future__ import annotations

import sys

import click

from quietlimb.cli.capture import capture
from quietlimb.cli.chart import chart
from quietlimb.cli.check import check
from quietlimb.cli.clinic import clinic
from quietlimb.cli.compare import compare
from quietlimb.cli.cuff import cuff
from quietlimb.cli.follow import follow
from quietlimb.cli.interpret import interpret
from quietlimb.cli.place import place
from quietlimb.cli.read import read
from quietlimb.cli.report import report
from quietlimb.cli.screen import screen
from quietlimb.cli.serve import serve
from quietlimb.cli.simulate import simulate
from quietlimb.engine.version import ENGINE_VERSION


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(ENGINE_VERSION, prog_name="quietlimb")
def quietlimb() -> None:
    """Blood pressure of cats and dogs: from cuff recordings to one charted pressure and its meaning.

    Advises only: the veterinarian decides. Not a certified medical device.
    """


for command in (
    capture,
    read,
    chart,
    interpret,
    follow,
    screen,
    place,
    cuff,
    check,
    compare,
    simulate,
    report,
    serve,
    clinic,
):
    quietlimb.add_command(command)


def main() -> None:
    """Entry point of the installed command."""
    for stream in (sys.stdout, sys.stderr):
        # A console that cannot show a letter of a file name must not end the batch.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    quietlimb()


if __name__ == "__main__":
    main()
