"""Bundles and tables out, and sessions in: a look at what would happen, then, if wanted, that."""

from __future__ import annotations

import uuid

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.desk.documents import file_name
from quietlimb.clinic.downloads import name_in_files
from quietlimb.clinic.interchange.forms import BundleForm, ImportForm, as_text
from quietlimb.clinic.interchange.incoming import MOST_BYTES, Plan, plan
from quietlimb.clinic.interchange.outgoing import bundle_of, table_of
from quietlimb.clinic.interchange.services import sessions_import as sessions_take_in
from quietlimb.clinic.rights import fetch, needs, person_of, visible
from quietlimb.clinic.sessions.models import Session, SignedValue
from quietlimb.exchange.errors import BundleError


@needs("look")
@require_safe
def session_fhir(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """A signed session as a FHIR bundle; there is none before it is signed."""
    session = fetch(person_of(request), "look", Session, pk=session_id)
    signed = _signed(request).filter(session=session).first()
    if signed is None:
        return _plain(request, _("This session is not signed yet; there is nothing to hand on."))
    return _bundle(session.animal, [signed], file_name(signed, "json"))


@needs("look")
@require_safe
def animal_fhir(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """All signed sessions of an animal as one bundle."""
    animal = fetch(person_of(request), "look", Animal, pk=animal_id)
    signed = list(_signed(request).filter(session__animal=animal).order_by("session__started_at"))
    if not signed:
        return _plain(request, _("No session of this animal is signed yet; there is nothing to hand on."))
    return _bundle(animal, signed, _named(animal, "json"))


@needs("look")
@require_safe
def animal_csv(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """The sessions of an animal that brought a pressure, and its events, as `quietlimb follow` reads them."""
    animal = fetch(person_of(request), "look", Animal, pk=animal_id)
    headers = {"Content-Disposition": f'attachment; filename="{_named(animal, "csv")}"'}
    return HttpResponse(table_of(animal), content_type="text/csv; charset=utf-8", headers=headers)


@needs("import")
@require_http_methods(["GET", "POST"])
def sessions_import(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """With a file, what importing it would do. Nothing is written."""
    animal = fetch(person_of(request), "import", Animal, pk=animal_id)
    form = BundleForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        content = form.content()
        if len(content) > MOST_BYTES:
            form.add_error("file", _("The file is too large; export fewer sessions at a time."))
        else:
            try:
                found = plan(animal, content, now=timezone.now())
            except BundleError as error:
                form.add_error("file", f"{error}.")
            else:
                return _shown(request, animal, found, content, form.file_name())
    context = {"animal": animal, "form": form, "most_kb": MOST_BYTES // 1000}
    return render(request, "interchange/file.html", context, status=200 if request.method == "GET" else 422)


@needs("import")
@require_POST
def sessions_import_done(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """Do what was shown. Where something has changed here since, show it again instead."""
    person = person_of(request)
    animal = fetch(person, "import", Animal, pk=animal_id)
    form = ImportForm(request.POST)
    if not form.is_valid():
        return _plain(request, _("Choose the file again."), 422)
    told = form.cleaned_data
    try:
        looked_at = plan(animal, told["content"], now=timezone.now())
        if looked_at.differs and not told["same"]:
            return _shown(request, animal, looked_at, told["content"], told["file_name"], unsaid=True)
        found, done = sessions_take_in(
            person,
            animal=animal,
            content=told["content"],
            looked_at=told["fingerprint"],
            file_name=told["file_name"],
            at=timezone.now(),
        )
    except BundleError as error:
        return _plain(request, f"{error}.", 422)
    if not done:
        return _shown(request, animal, found, told["content"], told["file_name"], meanwhile=True)
    return render(request, "interchange/done.html", {"animal": animal, "plan": found})


def _shown(
    request: HttpRequest,
    animal: Animal,
    found: Plan,
    content: bytes,
    name: str,
    *,
    meanwhile: bool = False,
    unsaid: bool = False,
) -> HttpResponse:
    context = {
        "animal": animal,
        "plan": found,
        "content": as_text(content),
        "file_name": name,
        "meanwhile": meanwhile,
        "unsaid": unsaid,
    }
    return render(request, "interchange/plan.html", context, status=409 if meanwhile else 422 if unsaid else 200)


def _signed(request: HttpRequest) -> QuerySet[SignedValue]:
    rows = visible(request.user, SignedValue).select_related("signed_by", "session__animal__practice")
    return rows.prefetch_related("amendments__by")


def _bundle(animal: Animal, signed: list[SignedValue], name: str) -> HttpResponse:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    text = bundle_of(animal, signed, at=timezone.now())
    return HttpResponse(text, content_type="application/fhir+json; fhirVersion=4.3", headers=headers)


def _named(animal: Animal, ending: str) -> str:
    return f"{name_in_files(animal)}-sessions.{ending}"


def _plain(request: HttpRequest, sentence: str, status: int = 409) -> HttpResponse:
    return render(request, "plain.html", {"sentence": sentence}, status=status)
