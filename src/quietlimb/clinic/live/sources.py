"""What this machine can listen to, as choices for the page; a choice that was not offered is not opened."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from quietlimb.capture.bleak_link import bluetooth
from quietlimb.capture.serial_line import ports, serial_line
from quietlimb.capture.simulated import simulated
from quietlimb.capture.source import Source
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Series

SEEDS = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One source: what the page sends, and how it is called there."""

    value: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """A source that was chosen; two captures never have one of the same name."""

    name: str
    source: Source


def choices_for(series: Series) -> list[Choice]:
    """What can be listened to for this series. Ports are named and not opened."""
    found = [Choice(value=f"serial:{port.name}", words=f"{port.name} {port.about}".strip()) for port in ports()]
    if series.practice.invented:
        found.append(Choice(value="simulated", words=_("an invented animal")))
    return found


def source_for(series: Series, value: str) -> Chosen:
    """The source of this choice, not yet opened. Raises EntryError for what was not offered.

    A Bluetooth instrument is told by its address, for looking around takes longer than a page may.
    """
    kind, _colon, name = value.partition(":")
    if kind == "bluetooth" and 0 < len(name) <= 64:
        return Chosen(name=value, source=bluetooth(name))
    if value not in {each.value for each in choices_for(series)}:
        raise EntryError("no-source", _("This source is not here"), _("plug it in and load the page again"))
    if kind == "serial":
        return Chosen(name=value, source=serial_line(name))
    seed = series.pk.int % SEEDS
    return Chosen(name=f"simulated:{series.pk}", source=simulated(seed, species=series.session.animal.of_the_engine))
