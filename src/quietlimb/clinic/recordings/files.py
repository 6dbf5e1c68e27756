"""One recording as bytes to keep, and as files to read: most are one file, a WFDB record is a header with its signals.

Several files are kept as a ZIP archive without compression, in the order of their names and with one date for all, so
that the same files are the same bytes.
"""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path, PurePosixPath, PureWindowsPath

from django.utils.translation import gettext as _

from quietlimb.clinic.recordings.limits import MOST_BYTES, MOST_FILES
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.engine.circumstances import Species
from quietlimb.engine.recording import Recording
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_file import RECORDING_NAMES, read_recording

LONGEST_NAME = 120
SEVERAL = ".zip"
ONE_DATE = (1980, 1, 1, 0, 0, 0)  # the first that the format knows


def packed(files: Mapping[str, bytes]) -> tuple[str, bytes]:
    """Name and bytes under which the files of one recording are kept.

    Raises EntryError where there is nothing, too much, a name that is none, or more than one recording.
    """
    if not files:
        raise EntryError("no-file", _("No file came"), _("drop a recording: CSV, EDF+ or WFDB"))
    if len(files) > MOST_FILES or sum(map(len, files.values())) > MOST_BYTES:
        raise EntryError(
            "too-much",
            _("This is more than {mib:.0f} MiB, or more than {files} files").format(
                mib=MOST_BYTES / 1024**2, files=MOST_FILES
            ),
            _("send one recording at a time, with fewer samples a second"),
        )
    for name in files:
        if not name or name in (".", "..") or name != bare(name) or len(name) > LONGEST_NAME or "\0" in name:
            raise EntryError("bad-name", _("A file has no usable name"), _("give it a short name and drop it again"))
    mains = [name for name in files if name.casefold().endswith(RECORDING_NAMES)]
    if not mains:
        raise EntryError(
            "no-recording",
            _("This is no recording by its name"),
            _("drop CSV, EDF+, or the .hea of a WFDB record with its signal files"),
        )
    if len(mains) != 1:
        raise EntryError(
            "not-one-recording",
            _("{count} of these files are recordings").format(count=len(mains)),
            _("send one recording at a time; a WFDB record is its .hea with the signal files beside it"),
        )
    if len(files) == 1:
        return mains[0], files[mains[0]]
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as made:
        for name in sorted(files):
            made.writestr(zipfile.ZipInfo(name, ONE_DATE), files[name])
    return mains[0] + SEVERAL, archive.getvalue()


def bare(name: str) -> str:
    """The last part of a name, by the rules of either kind of system."""
    return PurePosixPath(PureWindowsPath(name).name).name


def recording_of(name: str, content: bytes, species: Species | None) -> Recording:
    """The recording in what was kept.

    species : of the animal, which the file may not contradict; None at the bench, where no animal is

    Raises FileError for whatever is wrong with it; the path that it tells is the bare name.
    """
    with unpacked(name, content) as main:
        try:
            # every recording tells a species; at the bench it changes nothing
            return read_recording(main, species=species, defaults={"species": "cat"} if species is None else None)
        except FileError as error:
            raise FileError(error.code, error.says, error.remedy, path=main.name, line=error.line) from None


@contextmanager
def unpacked(name: str, content: bytes) -> Iterator[Path]:
    """The file to read, with those that belong to it beside it, as long as this lasts."""
    with tempfile.TemporaryDirectory(prefix="quietlimb-recording-") as folder:
        if not name.endswith(SEVERAL):
            main = Path(folder) / bare(name)
            main.write_bytes(content)
        else:
            main = Path(folder) / bare(name.removesuffix(SEVERAL))
            with zipfile.ZipFile(io.BytesIO(content)) as kept:
                for each in kept.namelist():
                    (Path(folder) / bare(each)).write_bytes(kept.read(each))
        yield main
