"""The people of the practice, for its lead; and the page on which somebody sets her own password."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quietlimb.clinic.changes import changes_asked
from quietlimb.clinic.journal.changing import changes_of
from quietlimb.clinic.lists import asked_of_a_list
from quietlimb.clinic.people import signing_in, throttling
from quietlimb.clinic.people.models import Competence, Person, Role
from quietlimb.clinic.rights import fetch, fetch_person, needs, person_of, staff
from quietlimb.clinic.staff import services
from quietlimb.clinic.staff.forms import CompetenceForm, DetailsForm, InviteForm, WelcomeForm
from quietlimb.clinic.staff.selectors import ending_competences

MOST_TRAINED = 20
CHOICES = {
    "show": (_l("Show"), [("", _l("at work")), ("former", _l("who have left"))]),
    "role": (_l("Role"), [("", _l("all roles")), *Role.choices, ("none", _l("no role"))]),
    "sort": (
        _l("Sort by"),
        [("", _l("name")), ("username", _l("name to sign in")), ("ending", _l("competence that ends"))],
    ),
}


@needs("lead")
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    """Everybody who may sign in; with ?show=former those who no longer may."""
    lead, asked = person_of(request), asked_of_a_list(request, CHOICES)
    former = asked.of("show") == "former"
    found = staff(lead).filter(is_active=not former).prefetch_related("competences", "memberships")
    if asked.of("sort") == "username":
        found = found.order_by("username")
    warned = {each.competence.pk for each in ending_competences(lead, timezone.localdate())}
    lines = [
        {
            "person": each,
            "roles": [Role(role).label for role in Role if role in _held(each)],
            "warned": [row for row in each.competences.all() if row.pk in warned],
        }
        for each in found
        if asked.of("role") in ("", *_held(each)) or (asked.of("role") == "none" and not _held(each))
    ]
    if asked.of("sort") == "ending":
        lines.sort(key=lambda line: not line["warned"])
    return render(request, "staff/people.html", {"lines": lines, "former": former, "asked": asked})


@needs("lead")
@require_http_methods(["GET", "POST"])
def person_add(request: HttpRequest) -> HttpResponse:
    """Somebody new; the answer shows her code, once."""
    form = InviteForm(request.POST or None)
    if form.is_valid():
        told = form.cleaned_data
        try:
            made, code = services.person_invite(
                person_of(request),
                name=told["name"],
                username=told["username"],
                roles=[Role(role) for role in told["roles"]],
            )
        except services.StaffError as error:
            form.add_error("username", f"{error.says}; {error.remedy}.")
        else:
            return _code_page(request, made, code)
    return render(request, "staff/person_add.html", {"form": form}, status=200 if request.method == "GET" else 422)


@needs("lead")
@require_http_methods(["GET", "POST"])
def person(request: HttpRequest, person_id: uuid.UUID) -> HttpResponse:
    """One person: names, roles, competence, what was changed."""
    lead = person_of(request)
    found = fetch_person(lead, "lead", person_id)
    shown = found.name
    form = DetailsForm(request.POST or None, instance=found)
    if form.is_valid():
        services.details_change(lead, person=form.save(commit=False))
        return redirect("person", found.pk)
    memberships = list(found.memberships.order_by("since", "role"))
    competences = list(found.competences.select_related("taught_by"))
    context = {
        "shown": shown,
        "found": found,
        "form": form,
        "memberships": memberships,
        "given": [(role.value, role.label, role in _held(found)) for role in Role],
        "competences": competences,
        "trained": found.training_results.all()[:MOST_TRAINED],
        "ending": {
            each.competence.pk: each
            for each in ending_competences(lead, timezone.localdate())
            if each.competence.person_id == found.pk
        },
        "changes": changes_of(found, *memberships, *competences, asked=changes_asked(request)),
        "asked_changes": changes_asked(request),
    }
    return render(request, "staff/person.html", context, status=200 if request.method == "GET" else 422)


@needs("lead")
@require_POST
def person_code(request: HttpRequest, person_id: uuid.UUID) -> HttpResponse:
    """A new code for a forgotten password; shown once."""
    lead = person_of(request)
    found = fetch_person(lead, "lead", person_id)
    return _code_page(request, found, services.first_code_give(lead, person=found))


@needs("lead")
@require_POST
def person_role(request: HttpRequest, person_id: uuid.UUID) -> HttpResponse:
    """Give or end a role."""
    lead, today = person_of(request), timezone.localdate()
    found = fetch_person(lead, "lead", person_id)
    role = request.POST.get("role", "")
    if role not in Role.values:
        return _refused(request, _("Say which role."))
    try:
        if request.POST.get("do") == "end":
            services.role_end(lead, person=found, role=Role(role), on=today)
        else:
            services.role_give(lead, person=found, role=Role(role), on=today)
    except services.StaffError as error:
        return _refused(request, f"{error.says}; {error.remedy}.")
    return redirect("person", found.pk)


@needs("lead")
@require_POST
def person_active(request: HttpRequest, person_id: uuid.UUID) -> HttpResponse:
    """Let somebody sign in no longer, or again."""
    lead = person_of(request)
    found = fetch_person(lead, "lead", person_id)
    try:
        if request.POST.get("do") == "deactivate":
            services.person_deactivate(lead, person=found)
        else:
            services.person_reactivate(lead, person=found)
    except services.StaffError as error:
        return _refused(request, f"{error.says}; {error.remedy}.")
    return redirect("person", found.pk)


@needs("lead")
@require_http_methods(["GET", "POST"])
def competence_add(request: HttpRequest, person_id: uuid.UUID) -> HttpResponse:
    """Something that a person has been taught."""
    lead = person_of(request)
    found = fetch_person(lead, "lead", person_id)
    form = CompetenceForm(
        request.POST or None, teachers=_teachers(lead, found), initial={"since": timezone.localdate()}
    )
    if form.is_valid():
        services.competence_add(lead, competence=form.save(commit=False), person=found)
        return redirect("person", found.pk)
    status = 200 if request.method == "GET" else 422
    return render(request, "staff/competence.html", {"form": form, "found": found}, status=status)


@needs("lead")
@require_http_methods(["GET", "POST"])
def competence(request: HttpRequest, competence_id: uuid.UUID) -> HttpResponse:
    """Change a competence: more sessions watched, another end."""
    lead = person_of(request)
    row = fetch(lead, "lead", Competence, pk=competence_id)
    form = CompetenceForm(request.POST or None, instance=row, teachers=_teachers(lead, row.person))
    if form.is_valid():
        services.competence_change(lead, competence=form.save(commit=False))
        return redirect("person", row.person_id)
    context = {
        "form": form,
        "found": row.person,
        "changes": changes_of(row, asked=changes_asked(request)),
        "asked_changes": changes_asked(request),
    }
    return render(request, "staff/competence.html", context, status=200 if request.method == "GET" else 422)


@require_http_methods(["GET", "POST"])
def welcome(request: HttpRequest) -> HttpResponse:
    """Set one's own password by the code from the practice lead, and be signed in."""
    form = WelcomeForm(request.POST or None)
    if form.is_valid():
        told, address = form.cleaned_data, throttling.address_of(request)
        wait = throttling.try_sign_in(told["username"].strip().lower(), address)
        made = None if wait else services.password_set_by_code(**told)
        if made is not None:
            throttling.signed_in(made, address)  # else her earlier slips could make her wait now
            signing_in.sign_in(request, username=told["username"], password=told["password"])
            return redirect("own-page")
        form.add_error(
            None,
            _("Too many tries. Wait a little, then try again.")
            if wait
            else _("Name or code is wrong, or the code is older than three days. Ask the practice lead for a new one."),
        )
    return render(request, "staff/welcome.html", {"form": form}, status=200 if request.method == "GET" else 422)


def _held(person: Person) -> frozenset[str]:
    """The roles that a person holds, also while she may not sign in."""
    return frozenset(each.role for each in person.memberships.all() if each.until is None)


def _teachers(lead: Person, pupil: Person) -> list[Person]:
    """Everybody of the practice, also who has left, but not herself."""
    return [each for each in staff(lead) if each.pk != pupil.pk]


def _code_page(request: HttpRequest, found: Person, code: str) -> HttpResponse:
    address = request.build_absolute_uri(reverse("welcome"))
    return render(request, "staff/code.html", {"found": found, "code": code, "address": address}, status=201)


def _refused(request: HttpRequest, sentence: str) -> HttpResponse:
    return render(request, "plain.html", {"sentence": sentence}, status=422)
