"""Finding animals."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from quietlimb.clinic.animals.selectors import animals_found
from quietlimb.clinic.desk.hits import hits_of
from quietlimb.clinic.rights import may, needs, person_of


@needs("look")
@require_safe
def animals(request: HttpRequest) -> HttpResponse:
    """Animals by a few letters of animal, owner or number; a swap gets the hits alone."""
    person, letters = person_of(request), request.GET.get("q", "")[:80]
    context = {
        "hits": hits_of(animals_found(person, letters)),
        "letters": letters,
        "may_measure": may(person, "measure"),
    }
    template = "animals/hits.html" if getattr(request, "htmx", False) else "animals/animals.html"
    return render(request, template, context)
