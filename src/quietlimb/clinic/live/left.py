"""What captures keep on this disk, each in a folder of its own until all of it stands in the database."""

from __future__ import annotations

import shutil
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings

from quietlimb.capture.keeping import Recovered, recover
from quietlimb.clinic.sessions.models import Series
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.live.moment import Finished
from quietlimb.engine.live.watch import Watch


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
        first = watch.add(kept.time_s, kept.cuff_pressure_mmhg).finished
        found = [each for each in (first, *iter(watch.end, None)) if each is not None]
    return found


def forget(folder: Path) -> None:
    """All of it stands in the database."""
    shutil.rmtree(folder, ignore_errors=True)
