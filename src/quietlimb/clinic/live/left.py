"""What captures keep on this disk, each in a folder of its own until all of it stands in the database."""

from __future__ import annotations

import shutil
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

from django.conf import settings

from quietlimb.capture.keeping import Recovered, recover
from quietlimb.clinic.sessions.models import Series
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.live.moment import Finished
from quietlimb.engine.live.watch import NOW_S, Watch
from quietlimb.engine.quantiles import median
from quietlimb.words.live import at_the_end

AIR_IS_OUT = "air-is-out"  # a file in the folder: somebody saw the cuff empty


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """What a capture that was cut off had kept: the name of its folder, when it began, and seconds of samples."""

    name: str
    began: datetime
    seconds: float


def folder_for(series: Series, name: str) -> Path:
    """Where a capture of this series keeps its lines; the learners' apart from the practice's."""
    data: Path = settings.CONFIGURATION.data
    return data / "captures" / str(series._state.db) / str(series.pk) / name


def new_name() -> str:
    """A name for a folder."""
    return uuid.uuid4().hex


def left_of(series: Series, *, running: str | None) -> list[Left]:
    """What was cut off for this series; not what is `running` now."""
    found = []
    for folder in sorted(folder_for(series, ".").glob("*")):
        kept = None if folder.name == running else kept_in(folder)
        if kept is not None and (kept.time_s.size or kept.readings):
            seconds = float(kept.time_s[-1]) if kept.time_s.size else 0.0
            began = datetime.fromtimestamp(kept.first_utc_s or folder.stat().st_mtime, UTC)
            found.append(Left(name=folder.name, began=began, seconds=seconds))
    return found


def air_left(series: Series) -> str:
    """What to say first where the newest capture that was cut off had seen a full cuff; empty once the air is out.

    A capture that writes now tells by itself.
    """
    newest: tuple[float, str] = (0.0, "")
    for folder in _folders(series, None):
        lines = folder / "received.txt"
        if not (folder / AIR_IS_OUT).exists() and lines.exists():
            found = lines.stat()
            says = _air_in(folder, found.st_size)
            newest = newest if says is None else max(newest, (found.st_mtime, says))
    return newest[1]


def air_is_out(series: Series, *, running: str | None) -> None:
    """Somebody has seen that the cuff is empty, or a sensor has told its pressure since: remembered over a restart."""
    for folder in _folders(series, running):
        (folder / AIR_IS_OUT).touch()


def _folders(series: Series, running: str | None) -> Iterator[Path]:
    return (each for each in sorted(folder_for(series, ".").glob("*")) if each.is_dir() and each.name != running)


@lru_cache(maxsize=64)  # pages ask every few seconds, and what was cut off changes no more
def _air_in(folder: Path, _octets: int) -> str | None:
    """What to say of the last pressure in a folder; empty of an empty cuff, None where none was seen."""
    kept = kept_in(folder)
    if kept is None or not kept.time_s.size:
        return None
    return at_the_end(median(kept.cuff_pressure_mmhg[kept.time_s > kept.time_s[-1] - NOW_S])) or ""


def kept_in(folder: Path) -> Recovered | None:
    """The whole lines in a folder of a capture; None where there are none that can be understood."""
    try:
        return recover(folder / "received.txt")
    except QuietlimbError:
        return None


def inflations(kept: Recovered, circumstances: Circumstances) -> list[Finished]:
    """What the watch makes of the samples, each inflation as it was or would have been."""
    watch, found = Watch(circumstances), []
    if kept.time_s.size:
        if ("sensor", "start") in kept.cuts:
            watch.begins_cut()
        first = watch.add(kept.time_s, kept.cuff_pressure_mmhg).finished
        cut_by = next((by for by, at in kept.cuts if at == "end"), None)
        found = [each for each in (first, *iter(lambda: watch.end(cut_by=cut_by), None)) if each is not None]
    return found


def forget(folder: Path) -> None:
    """All of it stands in the database."""
    shutil.rmtree(folder, ignore_errors=True)
