"""Editing an animal, merging doubles, moving a session."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.animals.selectors import animals_found
from quietlimb.clinic.changes import changes_asked
from quietlimb.clinic.corrections import services
from quietlimb.clinic.corrections.forms import AnimalForm, WhichAnimalForm
from quietlimb.clinic.corrections.services import CorrectionError
from quietlimb.clinic.desk.hits import hits_of
from quietlimb.clinic.journal.changing import changes_of
from quietlimb.clinic.rights import fetch, needs, person_of
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Session


@needs("measure")
@require_http_methods(["GET", "POST"])
def animal_edit(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """The data of an animal, its owner among them, and what was changed before."""
    person = person_of(request)
    animal = fetch(person, "measure", Animal, pk=animal_id)
    if animal.merged_into_id:
        return redirect("animal-edit", animal.merged_into_id)
    name = animal.name  # as it stands, whatever the form writes into the row
    form = AnimalForm(request.POST or None, instance=animal, person=person)
    if form.is_valid():
        services.animal_change(
            person,
            animal=animal,
            fields=[*(name for name in form.fields if name in AnimalForm.Meta.fields), "born_about"],
            owner=form.owner,
            why=form.cleaned_data["why"],
        )
        return redirect("animal", animal.pk)
    asked = changes_asked(request)
    context = {
        "animal": animal,
        "name": name,
        "form": form,
        "changes": changes_of(animal, asked=asked),
        "asked_changes": asked,
    }
    status = 200 if request.method == "GET" else 422
    return render(request, "corrections/animal.html", context, status=status)


@needs("measure")
@require_http_methods(["GET", "POST"])
def animal_merge(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """This animal is a double of another, which then stands."""
    person = person_of(request)
    animal = fetch(person, "measure", Animal, pk=animal_id)
    if animal.merged_into_id:
        return redirect("animal", animal.merged_into_id)
    form, refused, status = WhichAnimalForm(request.POST or None), "", 200 if request.method == "GET" else 422
    if form.is_valid():
        into = fetch(person, "measure", Animal, pk=form.cleaned_data["animal"])
        try:
            services.animal_merge(person, double=animal, into=into, why=form.cleaned_data["why"])
        except CorrectionError as error:
            refused, status = f"{error.says}; {error.remedy}.", 409
        else:
            return redirect("animal", into.pk)
    context = {
        "title": _("{name} is a double").format(name=animal.name),
        "explained": _(
            "Choose the one that stands. Sessions, organs, treatment and recheck move to it; what it lacks is filled "
            "in from here. The double stays in the records and leads there. This cannot be undone by a touch; the "
            "journal tells every step."
        ),
        "button": _("Merge: the chosen one stands"),
        "count": animal.sessions.count(),
    }
    return _choose(request, animal, form, refused, status, context)


@needs("measure")
@require_http_methods(["GET", "POST"])
def session_move(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """A session that was started with the wrong animal goes to the right one, as long as nobody has signed it."""
    person = person_of(request)
    session = fetch(person, "measure", Session, pk=session_id)
    form, refused, status = WhichAnimalForm(request.POST or None), "", 200 if request.method == "GET" else 422
    if form.is_valid():
        to = fetch(person, "measure", Animal, pk=form.cleaned_data["animal"])
        try:
            services.session_move(person, session=session, to=to, why=form.cleaned_data["why"])
        except (CorrectionError, EntryError) as error:
            refused, status = f"{error.says}; {error.remedy}.", 409
        else:
            return redirect("table", session.pk)
    context = {
        "title": _("The session is of another animal than {name}").format(name=session.animal.name),
        "explained": _(
            "Its readings and recordings go with it. What was entered of organs and treatment stays where it is. The "
            "journal tells who moved it."
        ),
        "button": _("Move the session"),
        "session": session,
    }
    return _choose(request, session.animal, form, refused, status, context)


def _choose(
    request: HttpRequest,
    animal: Animal,
    form: WhichAnimalForm,
    refused: str,
    status: int,
    context: dict[str, object],
) -> HttpResponse:
    """Animals of the same species by a few letters, one of them to be chosen."""
    letters = request.GET.get("letters", animal.name if "count" in context else "")[:80]
    found = animals_found(person_of(request), letters, like=animal)
    shown = {"animal": animal, "letters": letters, "hits": hits_of(found), "form": form, "refused": refused, **context}
    return render(request, "corrections/choose.html", shown, status=status)
