"""Recordings as CSV: cuff pressure against time, with the circumstances above.

    # species: cat
    # cuff_width_cm: 2.5
    time_s,cuff_pressure_mmHg
    0.000,0.4
    0.005,0.6

`time_ms` and `cuff_pressure_kPa` are converted; other columns are left out.
"""

from __future__ import annotations

import gzip
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Species
from quietlimb.engine.recording import Recording
from quietlimb.exchange.circumstance_lines import circumstances_of, cuts_of, recording_lines
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.samples import PressureUnit, checked_recording
from quietlimb.exchange.table import Column, Decimals, Table, read_table

TIME_UNITS: Final = {"time_s": "s", "time_ms": "ms"}
PRESSURE_UNITS: Final = {"cuff_pressure_mmHg": "mmHg", "cuff_pressure_kPa": "kPa"}


def read_recording(
    path: str | os.PathLike[str],
    *,
    species: Species | None = None,
    defaults: Mapping[str, str | float] | None = None,
) -> Recording:
    """The recording in a CSV file.

    Parameters
    ----------
    species  : needed where the file does not tell it; where it does, they must agree
    defaults : other circumstances, for where the file is silent

    Raises
    ------
    FileError : whatever is wrong with the file, with the line wherever one is to blame.
    """
    table = read_table(path)
    circumstances = circumstances_of(table, species=species, defaults=defaults)
    time = _required(table, "time", TIME_UNITS)
    pressure = _required(table, "cuff_pressure", PRESSURE_UNITS)
    if not table.rows:
        raise table.error("empty", "no samples below the header row", "export the recording again", table.header_line)
    time_s, cuff_pressure = _columns(table, time, pressure)
    if time.unit == "ms":
        time_s = time_s / 1000.0
    unit: PressureUnit = "kPa" if pressure.unit == "kPa" else "mmHg"

    def objection(code: str, says: str, remedy: str, sample: int | None) -> FileError:
        if code == "out-of-range" and unit == "kPa":
            remedy = "if these numbers are mmHg, name the column cuff_pressure_mmHg; otherwise check the sensor's zero"
        return table.error(code, says, remedy, _line(table, code, sample))

    return checked_recording(time_s, cuff_pressure, unit, circumstances, objection, cuts_of(table))


def write_recording(
    recording: Recording, path: str | os.PathLike[str], extra: Mapping[str, object] | None = None
) -> None:
    """Write a recording as CSV, gzip-packed where the name ends in .gz.

    Numbers get the fewest digits that read back as the same float64, so the fingerprint survives. `extra` adds lines
    "# key: value" that a reader leaves out, such as the truth of a simulated recording. Where the recording was cut
    off is told in such lines too.
    """
    lines = recording_lines(recording, extra)
    lines.append("time_s,cuff_pressure_mmHg")
    samples = zip(recording.time_s.tolist(), recording.cuff_pressure_mmhg.tolist(), strict=True)
    lines.extend(f"{time!r},{pressure!r}" for time, pressure in samples)
    write_text(path, "\n".join(lines) + "\n")


def write_text(path: str | os.PathLike[str], text: str) -> None:
    """Write UTF-8 text, gzip-packed where the name ends in .gz; the same text gives the same bytes."""
    data = text.encode("utf-8")
    Path(path).write_bytes(gzip.compress(data, compresslevel=6, mtime=0) if str(path).endswith(".gz") else data)


def _required(table: Table, quantity: str, units: Mapping[str, str]) -> Column:
    column = table.column(quantity, units)
    if column is None:
        remedy = f"name one {' or '.join(units)}"
        if any(name.lower().startswith("systolic") for name in table.header):
            remedy = f"these look like readings: chart them (`quietlimb chart`); of a recording, {remedy}"
        raise table.error("column-missing", f"no column for {quantity}", remedy, table.header_line)
    return column


def _columns(table: Table, time: Column, pressure: Column) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Both columns; at once where the file is clean, row by row where a faulty line has to be named."""
    at_once = _columns_at_once(table, (time.index, pressure.index))
    if at_once is not None:
        return at_once
    decimals = Decimals(table)
    times, pressures = [], []
    for line, cells in table.cells():
        times.append(decimals.number(cells[time.index], "time", line))
        pressures.append(decimals.number(cells[pressure.index], "cuff pressure", line))
    return np.array(times), np.array(pressures)


def _columns_at_once(table: Table, indices: tuple[int, int]) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    rows, separator = table.rows, table.separator
    wanted = len(table.header) - 1
    if any(row.count(separator) != wanted or '"' in row for row in rows):
        return None
    if separator != "," and any("," in row for row in rows):
        if any("." in row for row in rows):
            return None
        rows = [row.replace(",", ".") for row in rows]
    try:
        columns = np.loadtxt(rows, delimiter=separator, comments=None, usecols=indices, ndmin=2, dtype=np.float64)
    except ValueError:
        return None
    if columns.shape != (len(rows), 2) or not np.isfinite(columns).all():
        return None
    return columns[:, 0], columns[:, 1]


def _line(table: Table, code: str, sample: int | None) -> int:
    """The line of a sample; where none is to blame, the one at which to look."""
    if sample is not None:
        return table.lines[sample]
    return {"kpa-suspected": table.header_line, "too-short": table.lines[-1]}.get(code, table.lines[0])
