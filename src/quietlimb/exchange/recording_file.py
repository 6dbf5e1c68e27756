"""A recording from a file of any kind, told apart by the ending of its name: CSV, EDF+, WFDB."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from typing import Final

from quietlimb.engine.circumstances import Species
from quietlimb.engine.recording import Recording
from quietlimb.exchange.errors import FileError

# Of a WFDB record the header stands for both files.
EDF_NAMES: Final = (".edf",)
WFDB_NAMES: Final = (".hea",)
CHANNEL_NAMES: Final = EDF_NAMES + WFDB_NAMES
NO_CHANNELS: Final = "--channel is not used: a CSV file has no channels, its columns are known by their names"
RECORDING_NAMES: Final = (".csv", ".csv.gz", *CHANNEL_NAMES)


def holds_channels(path: str | os.PathLike[str]) -> bool:
    """Whether a name is that of an EDF or WFDB file, which holds channels and no table."""
    return os.fspath(path).casefold().endswith(CHANNEL_NAMES)


def read_recording(
    path: str | os.PathLike[str],
    *,
    channel: str | None = None,
    species: Species | None = None,
    defaults: Mapping[str, str | float] | None = None,
    tell: Callable[[str], None] | None = None,
) -> Recording:
    """The recording in a file: EDF or EDF+ where the name ends in .edf, WFDB in .hea, and CSV otherwise.

    Parameters
    ----------
    channel  : of EDF and WFDB files, the label of the cuff pressure or its number counted from 1; None to find it by
               unit and label. A CSV file names its columns itself
    species  : needed where the file does not tell it; where it does, they must agree
    defaults : other circumstances, for where the file is silent
    tell     : called with a sentence on each thing that was asked or said and had to be left out: a channel of a CSV
               file, an impossible date of a WFDB header

    Raises
    ------
    FileError : whatever is wrong with the file.
    """
    name = os.fspath(path).casefold()
    if name.endswith(EDF_NAMES):
        from quietlimb.exchange.recording_edf import read_recording as read_edf

        return read_edf(path, channel=channel, species=species, defaults=defaults)
    if name.endswith(WFDB_NAMES):
        from quietlimb.exchange.recording_wfdb import read_recording as read_wfdb

        return read_wfdb(path, channel=channel, species=species, defaults=defaults, tell=tell)
    if name.endswith(".dat") and os.path.exists(f"{os.fspath(path)[:-4]}.hea"):
        raise FileError(
            "signal-file",
            "this holds the samples of a WFDB record but not their scale",
            "name the header beside it, which ends in .hea",
            path=path,
        )
    from quietlimb.exchange.recording_csv import read_recording as read_csv

    recording = read_csv(path, species=species, defaults=defaults)
    if channel is not None and tell is not None:
        tell(NO_CHANNELS)
    return recording
