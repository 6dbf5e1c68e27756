"""Everything that puts an animal right. Nothing is deleted: a double stays and leads to the one that stands."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from quietlimb.clinic.animals.models import Animal, Owner, Recheck
from quietlimb.clinic.desk.rechecks import recheck_renew
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Session
from quietlimb.clinic.sessions.services import lock_unsigned
from quietlimb.clinic.stores import together
from quietlimb.engine.errors import QuietlimbError

# What the one that stands takes from a double where it has nothing itself.
FILLED = ("owner", "breed", "colour", "born", "sex", "deceased_on")
REMARKS_FIT = 400


class CorrectionError(QuietlimbError):
    """These two cannot be one, or this session cannot go there."""


@together()
def animal_change(by: Person, *, animal: Animal, fields: Sequence[str], owner: Owner | None, why: str) -> None:
    """Save these fields of an animal and its owner: one who is here, perhaps renamed, a new one, or nobody."""
    if owner is not None and owner._state.adding:
        owner.practice_id = by.practice_id
        owner.save(force_insert=True)
        journal.write(by, "owner added", owner, why=why)
    elif owner is not None:
        change(by, "owner changed", owner, fields=("name",), why=why)
    animal.owner = owner
    change(by, "animal changed", animal, fields=(*fields, "owner"), why=why)
    recheck_renew(by, animal=animal)


@together()
def animal_merge(by: Person, *, double: Animal, into: Animal, why: str) -> Animal:
    """Take two rows for one animal: `into` stands, and everything of the double moves to it, each told in the journal.

    Signed sessions move too: they are of the same animal, and what was signed stays frozen as it was. The double keeps
    its own data, and its number unless the other has none.

    Raises CorrectionError where it is the same row, another species, or one of them is a double already.
    """
    rows = {
        row.pk: row for row in Animal.objects.select_for_update().filter(pk__in=[double.pk, into.pk]).order_by("pk")
    }
    if len(rows) < 2:
        raise CorrectionError("the-same", _("This is the same animal"), _("choose the other one"))
    double, into = rows[double.pk], rows[into.pk]
    _refuse_other(double, into)
    if double.merged_into_id is not None:
        raise CorrectionError("a-double", _("This one is a double already"), _("open the one that stands"))
    for session in double.sessions.all():
        session.animal = into
        change(by, "session moved", session, fields=("animal",), why=why)
    for rows_of in (double.events, double.conditions, double.organ_findings):
        for row in rows_of.all():
            row.animal = into
            change(by, f"{row._meta.verbose_name} moved", row, fields=("animal",), why=why)
    recheck = Recheck.objects.filter(animal=double).first()
    if recheck is not None and not Recheck.objects.filter(animal=into).exists():
        recheck.animal = into
        change(by, "recheck moved", recheck, fields=("animal",), why=why)
    number = "" if into.link_id else double.link_id
    double.merged_into = into
    if number:
        double.link_id = ""
    change(by, "double merged", double, fields=("merged_into", "link_id"), why=why)
    _fill(by, into, double, number, why)
    recheck_renew(by, animal=into)
    return into


@together()
def session_move(by: Person, *, session: Session, to: Animal, why: str) -> Session:
    """A session of the wrong animal goes to the right one, with its readings and recordings.

    What was entered of organs and treatment stays where it is: whether it was of this animal, somebody has to say.

    Raises EntryError where it is signed, CorrectionError for another species, a double, or the same animal.
    """
    lock_unsigned(session.pk)
    row = Session.objects.select_related("animal").get(pk=session.pk)
    to = Animal.objects.select_for_update().get(pk=to.pk)
    before = row.animal
    if before.pk == to.pk:
        raise CorrectionError("the-same", _("It is of this animal already"), _("choose another one"))
    _refuse_other(before, to)
    row.animal = to
    change(by, "session moved", row, fields=("animal",), why=why)
    for each in (before, to):
        recheck_renew(by, animal=each)
    return row


def _refuse_other(one: Animal, other: Animal) -> None:
    if one.species != other.species:
        raise CorrectionError("other-species", _("They are of different species"), _("choose one of the same species"))
    if other.merged_into_id is not None:
        raise CorrectionError("a-double", _("The other one is a double itself"), _("choose the one that stands"))


def _fill(by: Person, into: Animal, double: Animal, number: str, why: str) -> None:
    if into.born is None:
        into.born_about = double.born_about
    for name in FILLED:
        if not getattr(into, name):
            setattr(into, name, getattr(double, name))
    joined = "; ".join(filter(None, [into.remarks, double.remarks]))
    if double.remarks and double.remarks not in into.remarks and len(joined) <= REMARKS_FIT:
        into.remarks = joined
    into.link_id = into.link_id or number
    change(by, "animal changed", into, fields=(*FILLED, "born_about", "remarks", "link_id"), why=why)
