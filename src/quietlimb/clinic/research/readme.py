"""The plain words beside a de-identified export."""

from __future__ import annotations

from typing import Protocol

from quietlimb.engine.version import ENGINE_VERSION

INVENTED = "INVENTED - not of patients. The practice that made this holds demo data.\n\n"

TEXT = """\
{invented}De-identified sessions of blood pressure measuring in cats and dogs, with a cuff
{animals} animals, {sessions} sessions, {readings} readings

animals.csv    species, breed, sex, whole years at the first session, {oldest} for {oldest} and more
sessions.csv   day counted from the animal's first session, circumstances, how it ended, whether it was signed and
               amended, charted systolic pressure, and the one that stands after all amendments
readings.csv   in the order taken, with those that spoiled; minutes from the first reading of the session; instruments
               under a key. Source "recording": as read by Quietlimb {engine}

Left out
  names of animals, owners, people and the practice; numbers of the record; telephones and addresses
  every text that somebody typed: remarks, demeanour, drugs, prescriptions, signs, reasons, names of instruments and
  cuffs
  who read, held, signed or amended
  all dates and times of day; colours; what was struck through; illnesses, organs and treatment; recordings themselves
  breeds of fewer than {fewest} animals of different owners in this export: they stand as "other"

Keys were drawn at random for this export and kept nowhere. Nobody can go from a key to an animal, and the keys of two
exports do not belong together.

What risk stays
  Whoever has the records can recognise a session by its pressures and the days between sessions. Whoever knows an
  animal of the practice may recognise it where few are like it: here {alone} of {animals} animals share species, breed,
  sex and age with no other. So hand this on to people who have promised not to try, and do not publish it row by row.

Accuracy: pressures are as displays and Quietlimb told them, to 0.1 mmHg; nothing here was compared with an artery.
Quietlimb advises only, the veterinarian decides; it is not a certified medical device.
"""


class Counted(Protocol):
    """How much went out."""

    @property
    def animals(self) -> int: ...
    @property
    def sessions(self) -> int: ...
    @property
    def readings(self) -> int: ...
    @property
    def alone(self) -> int: ...


def readme(counts: Counted, *, fewest: int, oldest: float, invented: bool) -> str:
    """The text of an export."""
    return TEXT.format(
        invented=INVENTED if invented else "",
        animals=counts.animals,
        sessions=counts.sessions,
        readings=counts.readings,
        alone=counts.alone,
        fewest=fewest,
        oldest=f"{oldest:g}",
        engine=ENGINE_VERSION,
    )
