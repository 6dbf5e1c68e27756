"""What a command may write: never over what it reads."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import click

Identity = tuple[int, int]


def _identity(path: Path) -> Identity | None:
    """Device and number of the file, the same under every name and link; None where there is none."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino


def _read_from(given: str) -> Iterator[Path]:
    """The path itself, and of a folder the recordings in it; other files there, as older pictures, are not read."""
    from quietlimb.exchange.recording_file import RECORDING_NAMES

    path = Path(given)
    yield path
    try:
        yield from (inside for inside in path.iterdir() if inside.name.casefold().endswith(RECORDING_NAMES))
    except (OSError, ValueError):
        return


def refuse_to_overwrite_inputs(outputs: Iterable[Path], inputs: Iterable[str]) -> None:
    """Wrong use when an output is one of the files to be read, under this name or another.

    Raises
    ------
    click.UsageError : naming the output.
    """
    read = {_identity(path) for given in inputs for path in _read_from(given)} - {None}
    for output in outputs:
        if _identity(output) in read:
            raise click.UsageError(f"{output} is to be read and would be lost; name another file to write")
