"""What the page of the table shows of live captures before any news comes."""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.clinic.live.left import Left, left_of
from quietlimb.clinic.live.running import CAPTURES
from quietlimb.clinic.live.services import listening_into
from quietlimb.clinic.live.sources import Choice, choices_for
from quietlimb.clinic.sessions.models import Series


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Whether a capture runs, what else could be listened to, and what earlier ones left when they were cut off."""

    running: bool
    sources: tuple[Choice, ...]
    left: tuple[Left, ...]


def panel_of(series: Series) -> Panel:
    """The panel for a series."""
    running = CAPTURES.of(series.pk)
    left = left_of(series, running=listening_into(series))
    return Panel(running=running is not None and running.is_alive, sources=tuple(choices_for(series)), left=tuple(left))
