"""A pressure channel of a WFDB, EDF or CSV file, whole, with what is missing left missing.

The project's readers make recordings of cuff pressure and refuse anything else; here their channels serve, and their
rule for naming a channel: by its label, in any case, or by its number counted from 1.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.exchange.channels import PRESSURE_UNITS, Channel, ChannelFile, ChannelSamples
from quietlimb.exchange.recording_csv import TIME_UNITS
from quietlimb.exchange.recording_edf import read_channel as read_edf
from quietlimb.exchange.recording_file import EDF_NAMES, WFDB_NAMES
from quietlimb.exchange.recording_wfdb import read_channel as read_wfdb
from quietlimb.exchange.table import Decimals, read_table

Samples = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArterialRecord:
    """(n,) times [s], rising, and pressures [mmHg], nan where not measured."""

    channel: str
    time_s: Samples
    pressure_mmhg: Samples

    @property
    def rate_hz(self) -> float:
        """Median sampling rate [Hz]."""
        return float(1.0 / np.median(np.diff(self.time_s)))


def read_arterial(path: str | os.PathLike[str], channel: str) -> ArterialRecord:
    """A pressure channel of a WFDB, EDF or CSV file, whole. Of a WFDB record the bare name will do.

    Raises
    ------
    FileError : whatever is wrong with the file; with a list of the channels where the one named is not there.
    """
    if not os.path.exists(path) and os.path.exists(f"{os.fspath(path)}.hea"):
        path = f"{os.fspath(path)}.hea"
    name = os.fspath(path).casefold()
    how = read_wfdb if name.endswith(WFDB_NAMES) else read_edf if name.endswith(EDF_NAMES) else _from_csv
    found = how(path, channel)
    if found.time_s.size < 2 or (np.diff(found.time_s) <= 0.0).any():
        raise found.file.error(
            "time-backwards", "time does not go on from sample to sample", "sort the samples by time"
        )
    pressure = np.where(found.invalid, np.nan, found.pressure)
    if found.channel.pressure_unit == "kPa":
        pressure = mmhg_from_kpa(pressure)
    return ArterialRecord(channel=found.channel.label, time_s=found.time_s, pressure_mmhg=pressure)


def _from_csv(path: str | os.PathLike[str], channel: str) -> ChannelSamples:
    """The columns as channels: `ABP_mmHg` is labelled ABP. Empty cells and nan are samples not measured."""
    table = read_table(path)
    time = table.column("time", TIME_UNITS)
    if time is None:
        raise table.error("column-missing", "no column for time", f"name one {' or '.join(TIME_UNITS)}", None)
    source = ChannelFile(
        path=path,
        channels=tuple(_column_as_channel(name) for name in table.header),
        remarks=(),
        remark_place=table.remark_place,
        unit_place="end of the column's name, as in ABP_mmHg",
    )
    chosen = source.cuff_channel(_column_as_channel(channel).label)
    decimals = Decimals(table)
    times, pressures = [], []
    for line, cells in table.cells():
        times.append(decimals.number(cells[time.index], "time", line))
        cell = cells[chosen].strip()
        missing = cell.lower() in ("", "nan")
        pressures.append(np.nan if missing else decimals.number(cell, source.channels[chosen].label, line))
    pressure = np.array(pressures, dtype=np.float64)
    return ChannelSamples(
        file=source,
        index=chosen,
        time_s=np.array(times, dtype=np.float64) / (1000.0 if time.unit == "ms" else 1.0),
        pressure=pressure,
        invalid=np.isnan(pressure),
    )


def _column_as_channel(name: str) -> Channel:
    label, underscore, unit = name.strip().rpartition("_")
    known = bool(underscore) and unit.lower() in PRESSURE_UNITS
    return Channel(label=label, unit=unit) if known else Channel(label=name.strip(), unit="")
