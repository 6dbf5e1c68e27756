"""How long an animal has had to settle: since when, what is published, what is still to go.

Nothing here blocks a reading: starting early is noted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quietlimb.clinic.sessions.models import Reading, Session
from quietlimb.engine.standards import situational_rise
from quietlimb.engine.standards.acvim_2018 import LONGEST_ACCLIMATISATION, SHORTEST_ACCLIMATISATION
from quietlimb.words.sources import source_and_standing

STEP = timedelta(minutes=5)
LONGEST = timedelta(hours=24)

Do = Literal["more", "less", "again"]
DOS: tuple[Do, ...] = ("more", "less", "again")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """What the page shows, as of now.

    since     : since when the animal has been left alone; None where nobody has told it
    disturbed : whether that is since a disturbance after the first reading
    """

    since: datetime | None
    disturbed: bool
    minutes: int
    to_go: str
    published: str

    @property
    def by_minute(self) -> str:
        """What is to go after 0, 1, 2 ... minutes, for the page that counts on; the last holds from then on."""
        return "|".join(to_go(minute) for minute in range(int(LONGEST_ACCLIMATISATION.value) + 1))


def settled_since(session: Session, at: datetime) -> datetime | None:
    """Since when the animal had been left alone at that moment: it came in, or was disturbed for the last time before.

    None where that is not told, or it came in only later.
    """
    came, disturbed = session.acclimatised_since, [each for each in disturbances(session) if each <= at]
    if disturbed:
        return max(disturbed)
    return came if came is not None and came <= at else None


def disturbances(session: Session) -> list[datetime]:
    """When the animal was disturbed after its first reading."""
    return [datetime.fromisoformat(text) for text in session.disturbed_at]


def settling_of(session: Session, now: datetime) -> Settling:
    """What the page shows at this moment."""
    disturbed = disturbances(session)
    since = max(disturbed) if disturbed else session.acclimatised_since
    minutes = 0 if since is None else max(0, int((now - since).total_seconds() // 60))
    return Settling(
        since=since,
        disturbed=bool(disturbed),
        minutes=minutes,
        to_go="" if since is None else to_go(minutes),
        published=published(session.animal.species),
    )


def to_go(minutes: int) -> str:
    """What is still to go after so many minutes."""
    shortest, longest = int(SHORTEST_ACCLIMATISATION.value), int(LONGEST_ACCLIMATISATION.value)
    if minutes < shortest:
        words = ngettext("%(n)d minute still to go", "%(n)d minutes still to go", shortest - minutes)
        return words % {"n": shortest - minutes}
    if minutes < longest:
        return _("long enough; {longest} minutes are better").format(longest=longest)
    return _("long enough")


def published(species: str) -> str:
    """The minutes that are published, with their source and standing."""
    told = _("Published: {shortest:g} to {longest:g} minutes {source}").format(
        shortest=SHORTEST_ACCLIMATISATION.value,
        longest=LONGEST_ACCLIMATISATION.value,
        source=source_and_standing(SHORTEST_ACCLIMATISATION.source, SHORTEST_ACCLIMATISATION.standing),
    )
    if species != "cat":
        return f"{told}."
    hour = situational_rise.SETTLED_AFTER
    more = _("one study of cats asks for {minutes:g} {source}").format(
        minutes=hour.value, source=source_and_standing(hour.source, hour.standing)
    )
    return f"{told}; {more}."


def early_line(session: Session, readings: Sequence[Reading]) -> str:
    """The note on a first reading that was taken earlier than published; empty where it was not."""
    first = min((row.taken_at for row in readings if row.struck_at is None), default=None)
    since = None if first is None else settled_since(session, first)
    if first is None or since is None:
        return ""
    minutes = (first - since).total_seconds() / 60.0
    if minutes >= SHORTEST_ACCLIMATISATION.value:
        return ""
    return _("Started after {minutes:.0f} of {shortest:g} minutes to settle: noted.").format(
        minutes=int(minutes), shortest=SHORTEST_ACCLIMATISATION.value
    )
