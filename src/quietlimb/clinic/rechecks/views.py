"""What came of telling an owner, and the letter that tells her."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quietlimb.clinic.animals.models import Recheck
from quietlimb.clinic.rechecks.services import contact_tell
from quietlimb.clinic.rights import fetch, may, needs, person_of


@needs("contact")
@require_POST
def contact(request: HttpRequest, recheck_id: uuid.UUID) -> HttpResponse:
    """Contacted, booked, declined; or none of them any more."""
    person = person_of(request)
    recheck = fetch(person, "contact", Recheck, pk=recheck_id)
    told = request.POST.get("contact", "?")
    if told not in ("", *Recheck.Contact.values):
        return render(request, "plain.html", {"sentence": _("Say what came of it.")}, status=422)
    contact_tell(person, recheck=recheck, contact=told, on=timezone.localdate())
    return redirect("today")


@needs("contact")
@require_safe
def letter(request: HttpRequest, recheck_id: uuid.UUID) -> HttpResponse:
    """The letter for one animal, to print. It names no pressure, no drug and no dose: nothing of the record."""
    person, today = person_of(request), timezone.localdate()
    recheck = fetch(person, "contact", Recheck, pk=recheck_id, animal__deceased_on__isnull=True)
    context = {
        "recheck": recheck,
        "animal": recheck.animal,
        "owner": recheck.animal.owner,
        "today": today,
        "overdue": recheck.due_by < today,
        "may_lead": may(person, "lead"),
    }
    return render(request, "rechecks/letter.html", context)
