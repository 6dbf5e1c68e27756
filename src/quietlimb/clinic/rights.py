"""Who may do what. The only place that decides; every view gets its rows through here.

A person sees rows of her own practice and no others: for a stranger they do not exist (404). Within the practice, what
she may do follows from her roles (403 where it does not).
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, Literal, TypeVar

from django.contrib.auth.models import AnonymousUser
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase
from django.utils.translation import gettext as _

from quietlimb.clinic.people.models import Membership, Person, Practice, Role
from quietlimb.clinic.rows import PracticeRow

Action = Literal[
    "look",
    "measure",
    "sign",
    "lead",
    "export",
    "contact",
    "import",
    "check",
    "decide",
    "compared",
    "compare",
]
Anyone = Person | AnonymousUser
Row = TypeVar("Row", bound=PracticeRow)

# look: animals, sessions, instruments. measure: start sessions, add and strike readings, close. sign: sign and amend,
# and what only a veterinarian may say of an animal. lead: people, settings, instruments. export: de-identified data.
# contact: tell owners that it is time, and keep what came of it. import: take in sessions measured elsewhere. check:
# enter checks of instruments and cuffs. decide: what becomes of sessions that a failed check holds in doubt.
# compared: look at comparisons of methods, which tell of no patient. compare: keep and retire them.
ALLOWED: Mapping[str, frozenset[Action]] = {
    Role.NURSE: frozenset({"look", "measure", "contact", "check", "compared"}),
    Role.VETERINARIAN: frozenset({"look", "measure", "sign", "contact", "import", "decide", "compared"}),
    Role.LEAD: frozenset({"look", "lead", "export", "contact", "import", "check", "compared", "compare"}),
    Role.RESEARCHER: frozenset({"export", "compared", "compare"}),
}


def actions(person: Anyone) -> frozenset[Action]:
    """All that a person may do in her own practice."""
    if not isinstance(person, Person):
        return frozenset()
    return frozenset().union(*(ALLOWED[role] for role in person.roles))


def may(person: Anyone, action: Action, thing: PracticeRow | Practice | Person | None = None) -> bool:
    """Whether a person may do this to a thing, or at all in her practice where no thing is given."""
    if not isinstance(person, Person) or action not in actions(person):
        return False
    if thing is None:
        return True
    return (thing.pk if isinstance(thing, Practice) else thing.practice_id) == person.practice_id


def visible(person: Anyone, model: type[Row], *, action: Action = "look") -> QuerySet[Row]:
    """The rows of a kind that a person may look at; none for a stranger or for who may not look.

    action : the one that looking at this kind takes
    """
    rows: QuerySet[Row] = model._default_manager.all()
    if isinstance(person, Person) and may(person, action):
        return rows.filter(practice=person.practice_id)
    return rows.none()


def colleagues(person: Anyone) -> QuerySet[Person]:
    """The people of the same practice who may still sign in."""
    if isinstance(person, Person) and may(person, "look"):
        return Person.objects.filter(practice=person.practice_id, is_active=True)
    return Person.objects.none()


def measurers(person: Anyone, *, also: uuid.UUID | None = None) -> QuerySet[Person]:
    """The people of the same practice who may measure now.

    also : one who was named before, and stays where she may measure no longer
    """
    roles = [role for role, allowed in ALLOWED.items() if "measure" in allowed]
    held = Membership.objects.filter(role__in=roles, until__isnull=True)
    return colleagues(person).filter(Q(pk__in=held.values("person")) | Q(pk=also))


def fetch(person: Anyone, action: Action, model: type[Row], **which: object) -> Row:
    """The one row that `which` names, for doing this to it.

    Raises Http404 where the person's practice has no such row, PermissionDenied where she may not do this.
    """
    if not isinstance(person, Person):
        raise PermissionDenied
    rows = model._default_manager.select_related(*(model.FETCHED_WITH or (None,)))
    row = rows.filter(practice=person.practice_id, **which).first()
    if row is None:
        raise Http404(_("There is no such page here."))
    if not may(person, action, row):
        raise PermissionDenied
    return row


def person_of(request: HttpRequest) -> Person:
    """Who is asking, in a view that `needs` somebody."""
    if not isinstance(request.user, Person):
        raise PermissionDenied
    return request.user


View = Callable[..., HttpResponseBase]


def needs(action: Action | None = None) -> Callable[[View], View]:
    """A view for people who are signed in and may do this; others sign in first, or are refused."""

    def wrap(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *arguments: Any, **named: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            if action is not None and not may(request.user, action):
                raise PermissionDenied
            return view(request, *arguments, **named)

        return guarded

    return wrap


def staff(person: Anyone) -> QuerySet[Person]:
    """All people of a practice lead's own practice, also those who may no longer sign in."""
    if isinstance(person, Person) and may(person, "lead"):
        return Person.objects.filter(practice=person.practice_id).order_by("name", "id")
    return Person.objects.none()


def fetch_person(person: Anyone, action: Action, person_id: uuid.UUID) -> Person:
    """The one person of the same practice with this key, for doing this to her; raises as `fetch` does."""
    if not isinstance(person, Person):
        raise PermissionDenied
    found = Person.objects.filter(practice=person.practice_id, pk=person_id).first()
    if found is None:
        raise Http404(_("There is no such page here."))
    if not may(person, action, found):
        raise PermissionDenied
    return found
