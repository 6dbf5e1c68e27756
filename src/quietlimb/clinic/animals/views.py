"""Finding animals, and what else is searched for."""

from __future__ import annotations

from django.core.paginator import Page
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from quietlimb.clinic.animals.models import Animal, Species
from quietlimb.clinic.animals.selectors import animals_found, animals_sought
from quietlimb.clinic.desk.hits import Hit, hits_of
from quietlimb.clinic.elsewhere import found_elsewhere
from quietlimb.clinic.lists import Asked, asked_of_a_list, page_of, query_without_page
from quietlimb.clinic.rights import may, needs, person_of

CHOICES = {
    "species": (_("Species"), [("", _("cats and dogs")), *Species.choices]),
    "due": (
        _("Due"),
        [("", _("due or not")), ("due", _("due or overdue")), ("overdue", _("overdue")), ("not", _("not due"))],
    ),
    "show": (_("Show"), [("", _("all, those that died last")), ("alive", _("alive")), ("deceased", _("deceased"))]),
    "sort": (
        _("Sort by"),
        [
            ("", _("last seen")),
            ("name", _("name")),
            ("high", _("pressure, the highest first")),
            ("low", _("pressure, the lowest first")),
        ],
    ),
}


@needs("look")
@require_safe
def animals(request: HttpRequest) -> HttpResponse:
    """Animals by a few letters of animal, owner, telephone or number; a swap gets the first hits alone.

    The page is sorted and filtered by its address, and tells what else the letters lead to.
    """
    person, letters = person_of(request), request.GET.get("q", "")[:80]
    if getattr(request, "htmx", False):
        hits = hits_of(animals_found(person, letters))
        context = {"hits": hits, "letters": letters, "may_measure": may(person, "measure")}
        return render(request, "animals/hits.html", context)
    asked = asked_of_a_list(request, CHOICES, keep=("q",))
    hits, page = _hits(request, _filtered(animals_sought(person, letters), asked), asked.of("sort"))
    context = {
        "hits": hits,
        "page": page,
        "query": query_without_page(request),
        "asked": asked,
        "letters": letters,
        "elsewhere": found_elsewhere(person, letters),
        "may_measure": may(person, "measure"),
        "may_import": may(person, "lead"),
    }
    return render(request, "animals/animals.html", context)


def _filtered(found: QuerySet[Animal], asked: Asked) -> QuerySet[Animal]:
    today = timezone.localdate()
    due = Q(recheck__due_from__lte=today, deceased_on=None)
    conditions = {
        "species": Q(species=asked.of("species")),
        "due": {"due": due, "overdue": due & Q(recheck__due_by__lt=today), "not": ~due}.get(asked.of("due"), Q()),
        "show": Q(deceased_on__isnull=asked.of("show") == "alive"),
    }
    for name, condition in conditions.items():
        if asked.of(name):
            found = found.filter(condition)
    return found


def _hits(request: HttpRequest, found: QuerySet[Animal], sort: str) -> tuple[list[Hit], Page[Animal] | Page[Hit]]:
    """The hits of the page. By pressure all of them are looked at, for what is charted stands in no column."""
    if sort in ("high", "low"):
        sign = -1.0 if sort == "high" else 1.0
        every = hits_of(found)
        every.sort(key=lambda hit: (hit.systolic_mmhg is None, sign * (hit.systolic_mmhg or 0.0), hit.animal.name))
        of_hits: Page[Hit] = page_of(request, every)
        return list(of_hits), of_hits
    if sort == "name":
        found = found.order_by("name", "id")
    page: Page[Animal] = page_of(request, found)
    return hits_of(page), page
