"""Everything that writes to instruments and cuffs. None is ever deleted: sessions rest on it."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _

from quietlimb.clinic.bench.doubts import sessions_with
from quietlimb.clinic.bench.standing import checks_of, failures_of
from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import SignedValue
from quietlimb.clinic.stores import together
from quietlimb.engine.errors import QuietlimbError

Thing = Instrument | Cuff

INSTRUMENT = (
    "name",
    "serial_number",
    "technique",
    "gauge",
    "asset_tag",
    "loan",
    "held_static",
    "read_on",
    "slots",
    "out_of_service",
)
CUFF = ("name", "width_cm", "length_cm", "asset_tag", "loan", "out_of_service")
# What a signed value rests on: the kind of an instrument and the manometer it is read on, the width of a cuff.
RESTED_ON: Mapping[type[Instrument | Cuff], tuple[str, ...]] = {
    Instrument: ("technique", "gauge", "read_on_id"),
    Cuff: ("width_cm",),
}


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

    Raises EquipmentError where a signed value rests on what would change, or it would come back into service while its
    last check failed.
    """
    kind = type(thing)
    before = kind._default_manager.select_for_update().get(pk=thing.pk)
    for field in RESTED_ON[kind]:
        was, becomes = getattr(before, field), getattr(thing, field)
        # the manometer of a Doppler unit may be told once it is known
        if was != becomes and not (field == "read_on_id" and was is None) and is_signed_with(thing):
            raise EquipmentError(
                "signed-with",
                _("Signed values rest on this"),
                _("take it out of service and add it anew"),
                field={"read_on_id": "read_on", "gauge": "technique"}.get(field, field),
            )
    if before.out_of_service and not thing.out_of_service:
        _refuse_failed(thing)
    fields = INSTRUMENT if kind is Instrument else CUFF
    return change(by, f"{thing._meta.verbose_name} changed", thing, fields=fields, why=why)


def _refuse_failed(thing: Thing) -> None:
    failed = [each.failed for each in failures_of(thing, checks_of(thing)) if each.answered is None]
    if failed:
        raise EquipmentError(
            "failed",
            _("Its last check failed ({what})").format(what=failed[0].get_kind_display()),
            _("check it again before it comes back"),
            field="out_of_service",
        )


def is_signed_with(thing: Thing) -> bool:
    """Whether somebody has signed a session that this was used in."""
    signed = SignedValue.objects.filter(practice=thing.practice_id, session__in=sessions_with(thing))
    return signed.exists()
