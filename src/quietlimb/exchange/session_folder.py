"""A folder of recordings as one session, in the order taken."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from quietlimb.engine.circumstances import Species
from quietlimb.engine.recording import Recording
from quietlimb.engine.values import Cited
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_file import RECORDING_NAMES, read_recording

MAX_RECORDINGS = 1000
ASSUMED_SPACING = Cited(1.0, "min", "Quietlimb", "this file", "invented")

# Two recordings that differ in one of these belong to two series.
SERIES_CIRCUMSTANCES: Final = (
    "species",
    "animal",
    "method",
    "instrument",
    "site",
    "side",
    "cuff",
    "cuff_width_cm",
    "position",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordingInSession:
    """A recording, its file, and its minutes after the first one."""

    path: Path
    recording: Recording
    minute: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SessionFolder:
    """What a folder holds.

    recordings      : those that could be read, in the order taken
    failures        : the errors of the others, by file name
    told            : (file name, sentence) on what had to be left out of a recording, as `read_recording` tells it
    minutes_assumed : True when not every file tells `started_at`, so that order and minutes come from the names
    """

    recordings: tuple[RecordingInSession, ...]
    failures: tuple[FileError, ...]
    told: tuple[tuple[str, str], ...]
    minutes_assumed: bool

    @property
    def differing(self) -> tuple[str, ...]:
        """The circumstances of a series in which the recordings differ; series are never pooled."""
        told = [found.recording.circumstances for found in self.recordings]
        return tuple(name for name in SERIES_CIRCUMSTANCES if len({getattr(each, name) for each in told}) > 1)


def read_session_folder(
    path: str | os.PathLike[str],
    *,
    channel: str | None = None,
    species: Species | None = None,
    defaults: Mapping[str, str | float] | None = None,
) -> SessionFolder:
    """The recordings in a folder, ordered by `started_at` where every one tells it and by name otherwise.

    Names are compared with their numbers as numbers: r2 comes before r10. Files with other endings than
    `RECORDING_NAMES`, hidden ones and sub-folders are left out. A file that cannot be read does not stop the others.

    Raises
    ------
    FileError : `not-found`, `not-a-folder`, `not-readable`, `no-recordings`, `too-many-files`, or `started-at-mixed`
                when some times have an offset from UTC and others do not, so that no order can be told.
    """
    recordings: list[tuple[Path, Recording]] = []
    failures = []
    told: list[tuple[str, str]] = []
    for file in _files(path):
        sentences: list[str] = []
        try:
            recording = read_recording(file, channel=channel, species=species, defaults=defaults, tell=sentences.append)
            recordings.append((file, recording))
            told += [(file.name, sentence) for sentence in sentences]
        except FileError as error:
            failures.append(error)
    starts = [_start(recording) for _, recording in recordings]
    known = [start for start in starts if start is not None]
    if len(known) < len(recordings):
        minutes = [k * ASSUMED_SPACING.value for k in range(len(recordings))]
        in_order = list(zip(minutes, recordings, strict=True))
    else:
        _refuse_mixed(known, recordings)
        # The sort is stable, so equal times stay in the order of their names.
        timed = sorted(zip(known, recordings, strict=True), key=lambda pair: _in_utc(pair[0]))
        in_order = [
            ((_in_utc(start) - _in_utc(timed[0][0])).total_seconds() / 60.0, recording) for start, recording in timed
        ]
    return SessionFolder(
        recordings=tuple(
            RecordingInSession(path=file, recording=recording, minute=minute) for minute, (file, recording) in in_order
        ),
        failures=tuple(failures),
        told=tuple(told),
        minutes_assumed=len(known) < len(recordings),
    )


def natural_order(name: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts names with their numbers as numbers."""
    parts = re.split(r"([0-9]+)", name.lower())
    # int() refuses thousands of digits at once; a file name has at most a few hundred.
    return tuple((0, int(part), part) if part.isdecimal() and part.isascii() else (1, 0, part) for part in parts)


def _files(path: str | os.PathLike[str]) -> list[Path]:
    folder = Path(path)
    try:
        with os.scandir(folder) as entries:
            names = [
                entry.name
                for entry in entries
                if entry.name.lower().endswith(RECORDING_NAMES) and not entry.name.startswith(".") and entry.is_file()
            ]
    except (FileNotFoundError, ValueError):
        raise FileError("not-found", "there is no such folder", "check the name", path=path) from None
    except NotADirectoryError:
        raise FileError("not-a-folder", "this is not a folder", "name a folder of recordings", path=path) from None
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise FileError(
            "not-readable", f"the folder cannot be opened ({reason})", "check that you may read it", path=path
        ) from None
    if not names:
        raise FileError(
            "no-recordings",
            f"no file ends in {' or '.join(RECORDING_NAMES)}",
            "name the folder that holds the recordings itself; sub-folders are not searched",
            path=path,
        )
    if len(names) > MAX_RECORDINGS:
        raise FileError(
            "too-many-files",
            f"the folder has {len(names)} recordings, more than {MAX_RECORDINGS}",
            "put each session into a folder of its own",
            path=path,
        )
    return [folder / name for name in sorted(names, key=lambda name: (natural_order(name), name))]


def _start(recording: Recording) -> datetime | None:
    started_at = recording.circumstances.started_at
    return None if started_at is None else datetime.fromisoformat(started_at)


def _in_utc(moment: datetime) -> datetime:
    """The moment without zone: in UTC where it has one, as it stands where it has none."""
    return moment if moment.tzinfo is None else moment.astimezone(UTC).replace(tzinfo=None)


def _refuse_mixed(starts: list[datetime], recordings: list[tuple[Path, Recording]]) -> None:
    aware = [start.tzinfo is not None for start in starts]
    if any(aware) and not all(aware):
        raise FileError(
            "started-at-mixed",
            "started_at has no offset from UTC here but has one in another recording of the session",
            "write all times with the offset, as 2026-11-25T10:30:00+01:00, or all without",
            path=recordings[aware.index(False)][0],
        )
