"""A pressure channel of a WFDB, EDF or CSV file, whole, with what is missing left missing.

The project's readers make recordings of cuff pressure and refuse anything else; here their lower parts serve, and their
rule for naming a channel: by its label, in any case, or by its number counted from 1.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.exchange import recording_edf, recording_wfdb
from quietlimb.exchange.channels import PRESSURE_UNITS, Channel, ChannelFile
from quietlimb.exchange.recording_csv import TIME_UNITS
from quietlimb.exchange.recording_file import EDF_NAMES, WFDB_NAMES
from quietlimb.exchange.table import Decimals, read_table
from quietlimb.exchange.text_file import bytes_on_disk

Samples = NDArray[np.float64]
Found = tuple[ChannelFile, int, Samples, Samples]


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
    how = _from_wfdb if name.endswith(WFDB_NAMES) else _from_edf if name.endswith(EDF_NAMES) else _from_csv
    source, chosen, time_s, pressure = how(path, channel)
    if time_s.size < 2 or (np.diff(time_s) <= 0.0).any():
        raise source.error("time-backwards", "time does not go on from sample to sample", "sort the samples by time")
    if source.channels[chosen].pressure_unit == "kPa":
        pressure = mmhg_from_kpa(pressure)
    return ArterialRecord(channel=source.channels[chosen].label, time_s=time_s, pressure_mmhg=pressure)


def _from_wfdb(path: str | os.PathLike[str], channel: str) -> Found:
    header = recording_wfdb._header(path)
    source = ChannelFile(
        path=path,
        channels=tuple(Channel(label=signal.label, unit=signal.unit) for signal in header.signals),
        remarks=(),
        remark_place="a line at the end of the header",
        unit_place="unit (after the gain, as 100/mmHg)",
    )
    chosen = source.cuff_channel(channel)
    signal = header.signals[chosen]
    if signal.gain == 0.0:
        raise source.error("not-calibrated", f"channel {chosen + 1} has no gain", "write its gain into the header")
    digital = recording_wfdb._samples(source, header, chosen)
    missing = digital == recording_wfdb.FORMATS[signal.format].invalid
    pressure = np.where(missing, np.nan, (digital - signal.baseline) / signal.gain)
    return source, chosen, np.arange(digital.size) / (header.rate_hz * signal.per_frame), pressure


def _from_edf(path: str | os.PathLike[str], channel: str) -> Found:
    from edfio import read_edf

    data = bytes_on_disk(path)
    layout = recording_edf._layout(data, path)
    with recording_edf._told_as_file_error(path):
        edf = read_edf(data)
        source = ChannelFile(
            path=path,
            channels=tuple(Channel(label=each.label, unit=each.physical_dimension) for each in edf.signals),
            remarks=(),
            remark_place="an annotation",
            unit_place="physical dimension",
        )
        chosen = source.cuff_channel(channel)
        signal = edf.signals[chosen]
        pressure = np.asarray(signal.data, dtype=np.float64)
    within_s = np.arange(signal.samples_per_data_record) * (layout.record_s / signal.samples_per_data_record)
    onsets = recording_edf._onsets(data, layout, path)
    return source, chosen, (onsets[:, np.newaxis] + within_s).reshape(-1), pressure


def _from_csv(path: str | os.PathLike[str], channel: str) -> Found:
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
    return source, chosen, np.array(times) / (1000.0 if time.unit == "ms" else 1.0), np.array(pressures)


def _column_as_channel(name: str) -> Channel:
    label, underscore, unit = name.strip().rpartition("_")
    known = bool(underscore) and unit.lower() in PRESSURE_UNITS
    return Channel(label=label, unit=unit) if known else Channel(label=name.strip(), unit="")
