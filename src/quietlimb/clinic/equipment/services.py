"""Everything that writes to instruments and cuffs. None is ever deleted: sessions rest on it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import SignedValue
from quietlimb.clinic.stores import together
from quietlimb.engine.errors import QuietlimbError

Thing = Instrument | Cuff

INSTRUMENT = ("name", "serial_number", "technique", "slots", "out_of_service")
CUFF = ("name", "width_cm", "length_cm", "out_of_service")
# What a signed value rests on: the kind of an instrument, the width of a cuff.
RESTED_ON = {Instrument: "technique", Cuff: "width_cm"}


class EquipmentError(QuietlimbError):
    """This would change what stands signed. `field` is the one to look at."""

    def __init__(self, code: str, says: str, remedy: str, *, field: str) -> None:
        super().__init__(code, says, remedy)
        self.field = field


@together()
def thing_add(by: Person, thing: Thing) -> Thing:
    """Save a filled-in instrument or cuff."""
    thing.practice_id = by.practice_id
    thing.save(force_insert=True)
    journal.write(by, f"{thing._meta.verbose_name} added", thing)
    return thing


@together()
def thing_change(by: Person, thing: Thing, *, why: str = "") -> bool:
    """Save an instrument or cuff that was filled in anew; whether anything was different.

    Raises EquipmentError where a signed value rests on what would change.
    """
    kind = type(thing)
    field = RESTED_ON[kind]
    before = kind._default_manager.get(pk=thing.pk)
    if getattr(before, field) != getattr(thing, field) and is_signed_with(thing):
        raise EquipmentError(
            "signed-with",
            _("Signed values rest on this"),
            _("take it out of service and add it anew"),
            field=field,
        )
    fields = INSTRUMENT if kind is Instrument else CUFF
    return change(by, f"{thing._meta.verbose_name} changed", thing, fields=fields, why=why)


def is_signed_with(thing: Thing) -> bool:
    """Whether somebody has signed a session that this was used in."""
    name = "instrument" if isinstance(thing, Instrument) else "cuff"
    used = {f"session__series__{name}": thing}
    return SignedValue.objects.filter(practice=thing.practice_id, **used).exists()
