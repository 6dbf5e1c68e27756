"""`quietlimb read`: recordings to readings."""

from __future__ import annotations

from pathlib import Path

import click

from quietlimb.cli.faults import Batch, remark_on
from quietlimb.cli.options import METHODS, channel_option, json_option, method_option, species_option
from quietlimb.cli.outputs import refuse_to_overwrite_inputs
from quietlimb.cli.paths import recording_files
from quietlimb.cli.pictures import numbered, picture_option
from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import QuietlimbError


@click.command(short_help="Recordings to readings.")
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@species_option()
@channel_option
@method_option
@picture_option
@json_option
def read(
    paths: tuple[str, ...],
    species: Species | None,
    channel: str | None,
    method: str,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Read recordings of cuff pressure: three pressures, verdict and findings for each.

    PATH is a file (CSV, EDF+, or the .hea of a WFDB record), a folder of them or a pattern.
    """
    from quietlimb.cli.reading_text import reading_lines
    from quietlimb.engine.reading import read as read_pressures
    from quietlimb.exchange.json_values import dump_line
    from quietlimb.exchange.recording_file import read_recording
    from quietlimb.exchange.results_json import reading_error_object, reading_object

    def tell(path: str, error: QuietlimbError) -> None:
        click.echo(dump_line(reading_error_object(path, error)))

    batch = Batch(tell if as_json else None)
    files: list[str] = []
    for given in paths:
        with batch.file(given):
            files.extend(recording_files(given))
    if picture is not None:
        refuse_to_overwrite_inputs([numbered(picture, k + 1, len(files)) for k in range(len(files))], files)
    for ordinal, path in enumerate(files, start=1):
        with batch.file(path):
            recording = read_recording(path, channel=channel, species=species, tell=remark_on(path))
            reading = read_pressures(recording, method=METHODS[method])
            if as_json:
                click.echo(dump_line(reading_object(path, reading, recording)))
            else:
                click.echo("\n".join([*reading_lines(path, reading), ""]))
            if picture is not None:
                from quietlimb.figures.export import save
                from quietlimb.figures.recording import recording_figure

                target = numbered(picture, ordinal, len(files))
                save(recording_figure(reading, title=Path(path).name), target)
                click.echo(f"{path}: picture in {target}", err=True)
    batch.end()
