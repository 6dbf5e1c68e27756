"""Invented deflations as EDF+ and WFDB files, written by plain loops that share nothing with the readers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 100
Digital = Sequence[int]


def falling(n: int = 800, top: float = 180.0, bottom: float = 60.0) -> NDArray[np.float64]:
    """A straight fall of cuff pressure [mmHg], (n,) at RATE_HZ."""
    return np.linspace(top, bottom, n)


def packed_samples(values: Digital, kind: int) -> bytes:
    """Samples in a WFDB signal format, one at a time, from its description."""
    if kind == 80:
        return bytes(value + 128 for value in values)
    if kind in (16, 24, 32):
        size = {16: 2, 24: 3, 32: 4}[kind]
        return b"".join(value.to_bytes(size, "little", signed=True) for value in values)
    assert kind == 212
    packed = bytearray()
    for k in range(0, len(values), 2):
        first = values[k] & 0xFFF
        second = values[k + 1] & 0xFFF if k + 1 < len(values) else None
        packed.append(first & 0xFF)
        packed.append(first >> 8 | (second >> 8 << 4 if second is not None else 0))
        if second is not None:
            packed.append(second & 0xFF)
    return bytes(packed)


def checksum(values: Digital) -> int:
    """The 16-bit sum of samples as a signed number."""
    total = sum(values) % 65536
    return total - 65536 if total >= 32768 else total


def wfdb_record(
    folder: Path,
    values: Digital,
    *,
    kind: int = 16,
    gain: str = "10(0)/mmHg",
    label: str = "Cuff pressure",
    comments: Sequence[str] = ("# species: cat",),
    record_line: str | None = None,
    signal_line: str | None = None,
    name: str = "r1",
) -> Path:
    """The header of a record with one signal."""
    (folder / f"{name}.dat").write_bytes(packed_samples(values, kind))
    record = record_line or f"{name} 1 {RATE_HZ} {len(values)}"
    signal = signal_line or f"{name}.dat {kind} {gain} 12 0 {values[0]} {checksum(values)} 0 {label}"
    header = folder / f"{name}.hea"
    header.write_text("\n".join([record, signal, *comments, ""]), encoding="utf-8")
    return header


def tenths(pressure: NDArray[np.float64]) -> list[int]:
    """Whole tenths of mmHg."""
    return [round(10 * float(value)) for value in pressure]


def edf_file(
    path: Path,
    channels: Sequence[tuple[str, str, NDArray[np.float64]]] | None = None,
    *,
    rates_hz: Sequence[float] | None = None,
    notes: Sequence[str] | None = ("# species: cat",),
    code: str = "X",
    name: str = "X",
    equipment: str = "X",
    technician: str = "X",
    startdate: date | None = None,
    starttime: time | None = None,
    record_s: float = 1.0,
) -> Path:
    """A file with channels of (label, unit, values), written by edfio; plain EDF where notes is None."""
    from edfio import Edf, EdfAnnotation, EdfSignal, Patient, Recording

    channels = [("Cuff pressure", "mmHg", falling())] if channels is None else channels
    rates = [float(RATE_HZ)] * len(channels) if rates_hz is None else rates_hz
    signals = [
        EdfSignal(values, rate, label=label, physical_dimension=unit, physical_range=(-50, 400))
        for (label, unit, values), rate in zip(channels, rates, strict=True)
    ]
    annotations = None if notes is None else [EdfAnnotation(0.0, None, note) for note in notes]
    Edf(
        signals,
        patient=Patient(code=code, name=name),
        recording=Recording(startdate=startdate, equipment_code=equipment, investigator_technician_code=technician),
        starttime=starttime,
        data_record_duration=record_s,
        annotations=annotations,
    ).write(path)
    return path


def interrupted(path: Path, pauses_s: Sequence[tuple[int, float]]) -> Path:
    """An EDF+C file of one-second records as EDF+D: from record k (counted from 0) on, all onsets later by so much."""
    data = path.read_bytes()
    signals = int(data[252:256])
    counts = [int(data[256 + 216 * signals + 8 * k :][:8]) for k in range(signals)]
    notes_at, record_bytes = 2 * sum(counts[:-1]), 2 * sum(counts)
    header_bytes = 256 * (signals + 1)
    changed = bytearray(data[:192] + b"EDF+D" + data[197:])
    for k in range(int(data[236:244])):
        start = header_bytes + k * record_bytes + notes_at
        block = bytes(changed[start : start + 2 * counts[-1]])
        onset = k + sum(pause for first, pause in pauses_s if k >= first)
        _, rest = block.split(b"\x14\x14", 1)
        fresh = f"+{onset:g}".encode() + b"\x14\x14" + rest.rstrip(b"\0") + b"\0"
        assert len(fresh) <= len(block)
        changed[start : start + len(block)] = fresh.ljust(len(block), b"\0")
    path.write_bytes(bytes(changed))
    return path
