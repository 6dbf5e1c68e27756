"""Everything that writes to people, roles and competences. Nobody is ever deleted: what she did keeps its name.

A new person gets no password from anybody. She gets a code that is shown once, and sets her password with it herself,
so that nobody but she has ever known it.
"""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.contrib.auth.hashers import check_password, make_password
from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.clinic.canonical import columns
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.codes import CODE_LASTS, new_code, plain
from quietlimb.clinic.people.models import Competence, Membership, Person, Practice, Role
from quietlimb.clinic.people.signing_in import person_make
from quietlimb.clinic.stores import together
from quietlimb.engine.errors import QuietlimbError


class StaffError(QuietlimbError):
    """This would leave the practice in a state that nobody can mend."""


@together()
def person_invite(by: Person, *, name: str, username: str, roles: list[Role]) -> tuple[Person, str]:
    """A new person in the practice of `by`, and the code with which she sets her password.

    Raises StaffError where somebody, perhaps of another practice, signs in by this name.
    """
    if Person.objects.filter(username=username.strip().lower()).exists():
        raise StaffError("name-taken", _("Somebody signs in by this name"), _("choose another one"))
    made = person_make(by, practice=by.practice, name=name, username=username, password=None, roles=roles)
    return made, first_code_give(by, person=made)


@together()
def first_code_give(by: Person, *, person: Person) -> str:
    """A new code for setting a password; an earlier one is void. Her old password holds until she sets the new one."""
    code = new_code()
    person.first_code, person.first_code_until = make_password(plain(code)), timezone.now() + CODE_LASTS
    person.save(update_fields=["first_code", "first_code_until"])
    journal.write(by, "code for a password given", person)
    return code


@together()
def password_set_by_code(*, username: str, code: str, password: str) -> Person | None:
    """The person who has set her password with her code; None where name or code are wrong, or the code is too old."""
    letters = plain(code)
    person = Person.objects.select_for_update().filter(username=username.strip().lower(), is_active=True).first()
    waits = person is not None and person.first_code_until is not None and person.first_code_until > timezone.now()
    if person is None or not waits:
        make_password(letters)  # takes as long as the comparison, so that the time tells nothing
        return None
    if not check_password(letters, person.first_code):
        return None
    person.first_code, person.first_code_until = "", None
    person.set_password(password)
    person.save(update_fields=["password", "first_code", "first_code_until"])
    journal.write(person, "password set", person)
    return person


def details_change(by: Person, *, person: Person) -> bool:
    """Save the name of a person, and the one that she signs in with."""
    return change(by, "person changed", person, fields=("name", "username"))


@together()
def role_give(by: Person, *, person: Person, role: Role, on: date) -> None:
    """A role from this day; one that she holds already stays as it is."""
    _hold(by.practice_id)
    if Membership.objects.filter(person=person, role=role, until__isnull=True).exists():
        return
    held = Membership.objects.create(practice_id=person.practice_id, person=person, role=role, since=on)
    journal.write(by, "role given", held)


@together()
def role_end(by: Person, *, person: Person, role: Role, on: date) -> None:
    """End a role on this day; the row stays. Raises StaffError where nobody would lead the practice any more."""
    _hold(by.practice_id)
    held = Membership.objects.filter(person=person, role=role, until__isnull=True).first()
    if held is None:
        return
    if role == Role.LEAD:
        _refuse_without_lead(person)
    held.until = on
    change(by, "role ended", held, fields=("until",))


@together()
def person_deactivate(by: Person, *, person: Person) -> None:
    """She may no longer sign in, from her next click on. Raises StaffError where nobody would lead any more."""
    _hold(by.practice_id)
    _refuse_without_lead(person)
    stored = Person.objects.get(pk=person.pk)
    stored.is_active, stored.first_code, stored.first_code_until = False, "", None
    change(by, "person deactivated", stored, fields=("is_active", "first_code", "first_code_until"))


def person_reactivate(by: Person, *, person: Person) -> None:
    """She may sign in again, in the roles that she still holds."""
    person.is_active = True
    change(by, "person activated", person, fields=("is_active",))


@together()
def competence_add(by: Person, *, competence: Competence, person: Person) -> Competence:
    """Save a filled-in competence of a person."""
    competence.practice_id, competence.person = person.practice_id, person
    competence.save(force_insert=True)
    journal.write(by, "competence added", competence, after=columns(competence))
    return competence


COMPETENCE = ("subject", "taught_by", "taught_elsewhere", "observed_sessions", "since", "until")


def competence_change(by: Person, *, competence: Competence) -> bool:
    """Save a competence that was filled in anew."""
    return change(by, "competence changed", competence, fields=COMPETENCE)


def _hold(practice_id: UUID) -> None:
    """Let two leads not end each other's role at the same time."""
    Practice.objects.select_for_update().get(pk=practice_id)


def _refuse_without_lead(person: Person) -> None:
    others = Membership.objects.filter(
        practice=person.practice_id, role=Role.LEAD, until__isnull=True, person__is_active=True
    ).exclude(person=person)
    if person.is_active and Role.LEAD in person.roles and not others.exists():
        raise StaffError(
            "last-lead", _("Nobody would lead the practice any more"), _("make somebody else practice lead first")
        )
