"""Files, folders and patterns as given on the command line, to the files that are meant."""

from __future__ import annotations

import glob
from collections.abc import Iterator
from pathlib import Path

from quietlimb.engine.errors import QuietlimbError


class PathError(QuietlimbError):
    """A path that names nothing to work on."""


def matches(given: str) -> list[str]:
    """What a path or pattern stands for, in the order of names, with numbers in names as numbers.

    Patterns are expanded here because not every shell does it. A path that exists is never taken for a pattern.

    Raises
    ------
    PathError : nothing is there.
    """
    from quietlimb.exchange.session_folder import natural_order

    if not glob.has_magic(given) or Path(given).exists():
        return [given]
    found = sorted(glob.glob(given, recursive=True), key=natural_order)
    if not found:
        raise PathError("no-such-path", "no file matches this pattern", "check the pattern")
    return found


def recording_files(given: str) -> Iterator[str]:
    """The recordings that a path, folder or pattern stands for; folders inside a folder are not entered.

    Raises
    ------
    PathError : nothing is there, or a folder holds no recording.
    """
    from quietlimb.exchange.recording_file import RECORDING_NAMES
    from quietlimb.exchange.session_folder import natural_order

    for path in matches(given):
        if not Path(path).is_dir():
            yield path
            continue
        inside = [str(file) for file in Path(path).iterdir() if file.name.casefold().endswith(RECORDING_NAMES)]
        if not inside:
            endings = " or ".join(RECORDING_NAMES)
            raise PathError(
                "no-recordings",
                f"{'it' if path == given else path} holds no file ending in {endings}",
                "name the folder that does; sub-folders are not searched",
            )
        yield from sorted(inside, key=natural_order)
