"""What the page of the table shows of live captures before any news comes."""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.clinic.live.left import Left, left_of
from quietlimb.clinic.live.running import CAPTURES
from quietlimb.clinic.live.selectors import air_in_the_cuff
from quietlimb.clinic.live.services import listening_into
from quietlimb.clinic.live.sources import Choice, choices_for
from quietlimb.clinic.sessions.models import Series


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Whether a capture runs, what else could be listened to, and what earlier ones left when they were cut off.

    capture : the name of the newest one, running or ended; empty before the first
    full : whether air is in the cuff, by what a capture that runs has seen last
    says : what to do now, where nothing comes from the source that is listened to
    air  : what to do now, where a capture has ended or was cut off with a full cuff
    """

    running: bool
    capture: str
    full: bool
    says: str
    air: str
    sources: tuple[Choice, ...]
    left: tuple[Left, ...]


def panel_of(series: Series) -> Panel:
    """The panel for a series."""
    running = CAPTURES.of(series.pk)
    left = left_of(series, running=listening_into(series))
    alive = running is not None and running.is_alive
    return Panel(
        running=alive,
        capture="" if running is None else running.name,
        full=running is not None and alive and running.is_full,
        says=running.lost if running is not None and alive else "",
        air=air_in_the_cuff(series),
        sources=tuple(choices_for(series)),
        left=tuple(left),
    )
