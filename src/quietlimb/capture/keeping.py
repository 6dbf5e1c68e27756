"""What was received, on disk at once: the lines themselves, appended and never changed, and each inflation as a file.

The lines reach the disk at least twice a second, so that whatever happens to the program or the machine, half a second
is lost at most; a program that is killed loses nothing that it was given.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from quietlimb.capture.source import MEASUREMENT_KEY
from quietlimb.engine.recording import CutBy, CutEnd, Recording
from quietlimb.exchange.blood_pressure_service import InstrumentReading, decode_measurement
from quietlimb.exchange.errors import FileError, ProtocolError
from quietlimb.exchange.line_decoder import LineDecoder, Trouble
from quietlimb.exchange.pressure_lines import LONGEST_LINE_OCTETS, UnfinishedLine
from quietlimb.exchange.recording_csv import write_recording

SYNC_S: Final = 0.3  # with the 0.2 s between two empty frames, half a second at most
MOST_KEPT_OCTETS: Final = 2**30  # a day and a half of lines at 200 Hz
_MEASURED: Final = f"#{MEASUREMENT_KEY}=".encode("ascii")


class Keeping:
    """A folder that fills while something is measured.

    folder : made if it is not there; what is in it already stays

    Raises
    ------
    OSError : it cannot be written, from whatever is called.
    """

    def __init__(self, folder: Path) -> None:
        self._made = not folder.exists()
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.lines_path, self._file = _new_file(folder, "received", ".txt")
        _sync_folder(folder)
        self._synced_at = time.monotonic()
        self._unsynced = False

    def add(self, lines: bytes) -> bool:
        """Append whole lines, none is fine. True once everything given so far is on the disk."""
        rest = memoryview(lines)
        while rest:
            rest = rest[os.write(self._file, rest) :]
        self._unsynced = self._unsynced or bool(lines)
        if self._unsynced and time.monotonic() - self._synced_at >= SYNC_S:
            self.sync()
        return not self._unsynced

    def sync(self) -> None:
        """Bring everything given so far to the disk now."""
        os.fsync(self._file)
        self._synced_at = time.monotonic()
        self._unsynced = False

    def keep_recording(self, recording: Recording, extra: Mapping[str, object] | None = None) -> Path:
        """Write one inflation as a recording of its own that `read` takes; whole and on the disk, or not at all."""
        path = _free_name(self.folder)
        written = path.with_name(f".{path.name}.part")
        write_recording(recording, written, extra)
        with written.open("rb+") as whole:
            os.fsync(whole.fileno())
        written.replace(path)
        _sync_folder(self.folder)
        return path

    def close(self) -> None:
        """Bring everything to the disk and close. Where nothing came at all, nothing is left."""
        self.sync()
        empty = os.fstat(self._file).st_size == 0
        os.close(self._file)
        if empty:
            self.lines_path.unlink()
            if self._made and not any(self.folder.iterdir()):
                self.folder.rmdir()

    @property
    def is_empty(self) -> bool:
        """Whether nothing was received."""
        return not self.lines_path.exists() or self.lines_path.stat().st_size == 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recovered:
    """What the whole lines of an earlier capture say.

    header              : what the source told
    time_s              : (n,) by the source's clock, from its first sample [s]
    cuff_pressure_mmhg  : (n,) mmHg
    first_utc_s         : host clock at the first sample, seconds since 1970; None where it was not kept
    readings            : of an instrument with a mind of its own
    troubles            : how often each thing had gone wrong
    unfinished          : the line in whose middle the file ends, with its number in the file; None where it ends whole
    failed              : why nothing was read after the last sample; None where all was
    cuts                : whether the sensor had been silent before the first sample; whether it, or the capture that
                          told of no end, broke off after the last
    """

    header: Mapping[str, str]
    time_s: NDArray[np.float64]
    cuff_pressure_mmhg: NDArray[np.float64]
    first_utc_s: float | None
    readings: tuple[InstrumentReading, ...]
    troubles: Mapping[Trouble, int]
    unfinished: UnfinishedLine | None
    failed: ProtocolError | None
    cuts: tuple[tuple[CutBy, CutEnd], ...]


def recover(path: str | os.PathLike[str]) -> Recovered:
    """All whole lines that were kept, whatever ended the capture.

    Raises
    ------
    FileError     : `not-readable`, `file-too-large`.
    ProtocolError : no unit that is known, or another version, before the first sample.
    """
    try:
        with open(path, "rb") as file:
            octets = file.read(MOST_KEPT_OCTETS + 1)
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise FileError("not-readable", f"cannot be opened ({reason})", "check the name", path=path) from None
    if len(octets) > MOST_KEPT_OCTETS:
        raise FileError(
            "file-too-large", f"more than {MOST_KEPT_OCTETS // 2**20} MiB", "this was not kept by a capture", path=path
        )
    end = octets.rfind(b"\n") + 1
    whole = octets[:end].split(b"\n")[:-1]
    lines = [line for line in whole if len(line) <= LONGEST_LINE_OCTETS]
    begun = octets[end : end + LONGEST_LINE_OCTETS]
    decoder = LineDecoder()
    samples = decoder.feed(lines)
    if decoder.failed is not None and samples.time_s.size == 0:
        raise decoder.failed
    return Recovered(
        header=dict(decoder.header),
        time_s=samples.time_s,
        cuff_pressure_mmhg=samples.cuff_pressure_mmhg,
        first_utc_s=decoder.first_utc_s,
        readings=tuple(_readings(lines)),
        troubles=dict(decoder.troubles),
        unfinished=UnfinishedLine(len(whole) + 1, begun) if begun else None,
        failed=decoder.failed,
        cuts=tuple(_cuts(decoder)),
    )


def _cuts(decoder: LineDecoder) -> Iterator[tuple[CutBy, CutEnd]]:
    if decoder.began_cut:
        yield "sensor", "start"
    if decoder.was_cut:
        yield "sensor", "end"
    elif decoder.ended is False:
        yield "capture", "end"


def _readings(lines: list[bytes]) -> list[InstrumentReading]:
    found = []
    for line in lines:
        if line.startswith(_MEASURED):
            try:
                found.append(decode_measurement(bytes.fromhex(line[len(_MEASURED) :].decode("ascii", "replace"))))
            except (ValueError, ProtocolError):
                continue  # kept as it came, and no reading
    return found


def _new_file(folder: Path, stem: str, ending: str) -> tuple[Path, int]:
    """A file that was not there before, and its descriptor: `stem`, or `stem`-2 and so on where that is taken."""
    number = 1
    while True:
        path = folder / (f"{stem}-{number}{ending}" if number > 1 else f"{stem}{ending}")
        try:
            flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
            return path, os.open(path, flags, 0o644)
        except FileExistsError:
            number += 1


def _free_name(folder: Path) -> Path:
    """The first of reading-1.csv, reading-2.csv, ... that is not there."""
    number = 1
    while (path := folder / f"reading-{number}.csv").exists():
        number += 1
    return path


def _sync_folder(folder: Path) -> None:
    """Bring the names in a folder to the disk; Windows does so by itself and lets no folder be opened."""
    if os.name == "posix":
        opened = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)
