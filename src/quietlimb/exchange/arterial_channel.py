"""The pressure inside an artery beside that of a cuff, in one file: a second column, or a second signal.

    # species: cat
    # arterial_zero_mmHg: 0.5
    # transducer_below_heart_cm: 0
    time_s,cuff_pressure_mmHg,arterial_pressure_mmHg
    0.000,0.4,92.1
    0.005,0.6,91.8

Empty cells are samples that were not measured. In EDF+ and WFDB the lines are annotations and comments, and each
signal may have its own sampling rate. A fast flush may stand in a file of its own, without a cuff pressure.
"""

from __future__ import annotations

import os
from typing import Final

import numpy as np
from numpy.typing import NDArray

from quietlimb.agreement.arterial_trace import ArterialTrace, arterial_trace
from quietlimb.agreement.synchrony import TwoChannels
from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import RecordingError
from quietlimb.engine.recording import Recording
from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.exchange.channels import ChannelSamples
from quietlimb.exchange.circumstance_lines import recording_lines
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_csv import TIME_UNITS, write_text
from quietlimb.exchange.recording_file import EDF_NAMES, WFDB_NAMES, read_recording
from quietlimb.exchange.table import Decimals, Remarked, Table, read_table

ARTERIAL_UNITS: Final = {"arterial_pressure_mmHg": "mmHg", "arterial_pressure_kPa": "kPa"}
ZERO: Final = "arterial_zero_mmhg"  # keys are read in small letters
BELOW_HEART: Final = "transducer_below_heart_cm"
FARTHEST: Final = {ZERO: 50.0, BELOW_HEART: 100.0}


def read_two_channels(
    path: str | os.PathLike[str],
    *,
    channel: str | None = None,
    artery: str | None = None,
    species: Species | None = None,
    flush: ArterialTrace | None = None,
) -> TwoChannels:
    """Cuff and artery of one file.

    Parameters
    ----------
    channel, artery : of EDF and WFDB files, the labels or numbers of the two signals; None to find them
    species         : as of `read_recording`
    flush           : a flush of the same line, from a file of its own

    Raises
    ------
    FileError : whatever is wrong with the file, with the line wherever one is to blame.
    """
    recording = read_recording(path, channel=channel, species=species)
    trace, told = _trace(path, artery)
    return TwoChannels(
        recording=recording,
        artery=trace,
        zero_mmhg=_number(told, ZERO),
        below_heart_cm=_number(told, BELOW_HEART),
        flush=flush,
    )


def read_arterial(path: str | os.PathLike[str], *, artery: str | None = None) -> ArterialTrace:
    """The pressure inside an artery from a file that need not hold a cuff's.

    Raises
    ------
    FileError : whatever is wrong with the file.
    """
    return _trace(path, artery)[0]


def arterial_text(trace: ArterialTrace, *, invented: bool) -> str:
    """A trace as the text of a file that `read_arterial` reads, to the last digit.

    invented : whether it was made up or simulated
    """
    lines = ["# invented: yes"] if invented else []
    lines.append("time_s,arterial_pressure_mmHg")
    samples = zip(trace.time_s.tolist(), trace.pressure_mmhg.tolist(), strict=True)
    lines.extend(f"{time!r},{'' if np.isnan(pressure) else repr(pressure)}" for time, pressure in samples)
    return "\n".join(lines) + "\n"


def write_two_channels(
    recording: Recording,
    arterial_mmhg: NDArray[np.float64],
    path: str | os.PathLike[str],
    extra: dict[str, object] | None = None,
) -> None:
    """Write a recording with the arterial pressure at the same moments; nan is an empty cell.

    arterial_mmhg : (n,) as many as the recording has samples
    extra         : further lines above, as `write_recording` has them
    """
    lines = recording_lines(recording, extra)
    lines.append("time_s,cuff_pressure_mmHg,arterial_pressure_mmHg")
    columns = (recording.time_s.tolist(), recording.cuff_pressure_mmhg.tolist(), arterial_mmhg.tolist())
    lines.extend(
        f"{time!r},{cuff!r},{'' if np.isnan(artery) else repr(artery)}"
        for time, cuff, artery in zip(*columns, strict=True)
    )
    write_text(path, "\n".join(lines) + "\n")


def _trace(path: str | os.PathLike[str], artery: str | None) -> tuple[ArterialTrace, Remarked]:
    name = os.fspath(path).casefold()
    file: Remarked
    if name.endswith((*EDF_NAMES, *WFDB_NAMES)):
        found = _channel(path, artery)
        time_s, pressure, unit = found.time_s, np.where(found.invalid, np.nan, found.pressure), found.channel
        file, in_kpa = found.file, unit.pressure_unit == "kPa"
    else:
        table = read_table(path)
        time_s, pressure, in_kpa = _columns(table)
        file = table
    try:
        return arterial_trace(time_s, mmhg_from_kpa(pressure) if in_kpa else pressure), file
    except RecordingError as error:
        raise file.error(error.code, error.says, error.remedy, None) from None


def _channel(path: str | os.PathLike[str], artery: str | None) -> ChannelSamples:
    if os.fspath(path).casefold().endswith(EDF_NAMES):
        from quietlimb.exchange.recording_edf import read_channel as read_edf

        return read_edf(path, artery, of="artery")
    from quietlimb.exchange.recording_wfdb import read_channel as read_wfdb

    return read_wfdb(path, artery, of="artery")


def _columns(table: Table) -> tuple[NDArray[np.float64], NDArray[np.float64], bool]:
    time, pressure = table.column("time", TIME_UNITS), table.column("arterial_pressure", ARTERIAL_UNITS)
    for column, quantity, units in ((time, "time", TIME_UNITS), (pressure, "arterial pressure", ARTERIAL_UNITS)):
        if column is None:
            raise table.error(
                "column-missing", f"no column for {quantity}", f"name one {' or '.join(units)}", table.header_line
            )
    assert time is not None
    assert pressure is not None
    decimals = Decimals(table)
    times, pressures = [], []
    for line, cells in table.cells():
        times.append(decimals.number(cells[time.index], "time", line))
        cell = cells[pressure.index].strip()
        pressures.append(np.nan if not cell else decimals.number(cell, "arterial pressure", line))
    time_s = np.array(times, dtype=np.float64)
    return time_s / 1000.0 if time.unit == "ms" else time_s, np.array(pressures), pressure.unit == "kPa"


def _number(file: Remarked, key: str) -> float | None:
    told = [remark for remark in file.remarks if remark.key == key and remark.value]
    if not told:
        return None
    if len(told) > 1:
        raise file.error("told-twice", f"{key} is told twice", "keep one of the lines", told[1].line)
    value = Decimals(file).number(told[0].value, key, told[0].line)
    if abs(value) > FARTHEST[key]:
        says = f"{key} is {value:g}"
        raise FileError(
            "out-of-range", says, f"give up to {FARTHEST[key]:g}", path=getattr(file, "path", ""), line=told[0].line
        )
    return value
