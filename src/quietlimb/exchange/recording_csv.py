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
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import RecordingError
from quietlimb.engine.recording import Recording, recording
from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.engine.values import Cited
from quietlimb.exchange.circumstance_lines import circumstance_lines, circumstances_of
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.table import Column, Decimals, Table, read_table

TIME_UNITS: Final = {"time_s": "s", "time_ms": "ms"}
PRESSURE_UNITS: Final = {"cuff_pressure_mmHg": "mmHg", "cuff_pressure_kPa": "kPa"}

# Shorter clipping is left for the reading to judge (finding `saturated`): the values below the limit may still be good.
SATURATED_S = Cited(5.0, "s", "Quietlimb", "this file", "invented")
SATURATED_SHARE = Cited(1 / 3, "of the samples", "Quietlimb", "this file", "invented")

# One short gap is bridged; many of them leave pulses that were never seen.
GAP_INTERVALS = Cited(3.0, "sampling intervals", "Quietlimb", "this file", "invented")
GAP_SHARE = Cited(0.10, "of the time", "Quietlimb", "this file", "invented")

_SAMPLE = re.compile(r"sample (\d+): ")


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
    time_s, cuff_pressure_mmhg = _columns(table, time, pressure)
    if time.unit == "ms":
        time_s = time_s / 1000.0
    try:
        # Differences and conversions of absurd numbers may overflow to inf, which the recording then refuses.
        with np.errstate(over="ignore"):
            if pressure.unit == "kPa":
                cuff_pressure_mmhg = mmhg_from_kpa(cuff_pressure_mmhg)
            found = recording(time_s, cuff_pressure_mmhg, circumstances)
    except RecordingError as error:
        raise _in_file(error, table, pressure.unit) from None
    _refuse_gaps(found, table)
    _refuse_saturated(found, table)
    return found


def write_recording(
    recording: Recording, path: str | os.PathLike[str], extra: Mapping[str, object] | None = None
) -> None:
    """Write a recording as CSV, gzip-packed where the name ends in .gz.

    Numbers get the fewest digits that read back as the same float64, so the fingerprint survives. `extra` adds lines
    "# key: value" that a reader leaves out, such as the truth of a simulated recording.
    """
    lines = circumstance_lines(recording.circumstances, extra)
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
        raise table.error(
            "column-missing", f"no column for {quantity}", f"name one {' or '.join(units)}", table.header_line
        )
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


def _in_file(error: RecordingError, table: Table, unit: str) -> FileError:
    """The engine's objection with the line of the sample in place of its number."""
    says, remedy = error.says, error.remedy
    sample = _SAMPLE.match(says)
    line_of: dict[str, Callable[[], int]] = {
        "kpa-suspected": lambda: table.header_line,
        "too-short": lambda: table.lines[-1],
    }
    if sample:
        line = table.lines[int(sample[1]) - 1]
        says = says[sample.end() :]
    else:
        line = line_of.get(error.code, lambda: table.lines[0])()
    if error.code == "out-of-range" and unit == "kPa":
        remedy = "if these numbers are mmHg, name the column cuff_pressure_mmHg; otherwise check the sensor's zero"
    return table.error(error.code, says, remedy, line)


def _refuse_gaps(recording: Recording, table: Table) -> None:
    step = np.diff(recording.time_s)
    # Differences of decimal times err in their last places: three whole intervals are no gap.
    gaps = step > (1.0 + 1e-6) * GAP_INTERVALS.value / recording.sampling_rate_hz
    share = float(step[gaps].sum() / step.sum())
    if share > GAP_SHARE.value:
        count = int(np.count_nonzero(gaps))
        raise table.error(
            "gap",
            f"{share:.0%} of the time from first to last sample is missing in {count} gap{'s' if count > 1 else ''}, "
            "of which the first ends here",
            "export every sample with its own time, or record again without interruptions",
            table.lines[int(gaps.argmax()) + 1],
        )


def _refuse_saturated(recording: Recording, table: Table) -> None:
    time, pressure = recording.time_s, recording.cuff_pressure_mmhg
    at_top = np.concatenate(([False], pressure == pressure.max(), [False]))
    edges = np.flatnonzero(np.diff(at_top))
    first, after = edges[::2], edges[1::2]
    longest = int((after - first).argmax())
    start, end = int(first[longest]), int(after[longest]) - 1
    seconds = float(time[end] - time[start])
    if seconds >= SATURATED_S.value and (end - start + 1) >= SATURATED_SHARE.value * pressure.size:
        raise table.error(
            "saturated",
            f"the pressure stands at {pressure[start]:g} mmHg, its highest value, for {seconds:.1f} s",
            "the sensor or its amplifier is at its limit: use one that reaches higher",
            table.lines[start],
        )
