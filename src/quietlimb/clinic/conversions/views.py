"""Conversions: everybody of the practice sees them, the practice lead brings and withdraws them."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from quietlimb.clinic.conversions import services
from quietlimb.clinic.conversions.forms import BringForm, WithdrawForm
from quietlimb.clinic.conversions.models import BroughtConversion
from quietlimb.clinic.conversions.showing import Shown
from quietlimb.clinic.downloads import download
from quietlimb.clinic.rights import fetch, may, needs, person_of, visible
from quietlimb.engine.errors import QuietlimbError


@needs("compared")
@require_safe
def conversions(request: HttpRequest) -> HttpResponse:
    """Those in use, and those that were withdrawn."""
    return _page(request, BringForm(person=person_of(request)))


@needs("lead")
@require_POST
def conversion_bring(request: HttpRequest) -> HttpResponse:
    """Bring a file in."""
    person = person_of(request)
    form = BringForm(request.POST, request.FILES, person=person)
    if form.is_valid():
        try:
            services.conversion_bring(
                person,
                file_name=form.file_name(),
                content=form.cleaned_data["file"].read(),
                instrument=form.cleaned_data["instrument"],
                at=timezone.now(),
            )
        except QuietlimbError as error:
            field = "instrument" if error.code in ("which-instrument", "other-method") else "file"
            form.add_error(field, f"{error.says}; {error.remedy}.")
        else:
            return redirect("conversions")
    return _page(request, form, status=422)


@needs("compared")
@require_safe
def conversion_file(request: HttpRequest, conversion_id: uuid.UUID) -> HttpResponse:
    """The file as it came."""
    row = fetch(person_of(request), "compared", BroughtConversion, pk=conversion_id)
    return download(bytes(row.content), row.file_name)


@needs("lead")
@require_POST
def conversion_withdraw(request: HttpRequest, conversion_id: uuid.UUID) -> HttpResponse:
    """Show it no longer, and say why."""
    person = person_of(request)
    row = fetch(person, "lead", BroughtConversion, pk=conversion_id)
    form = WithdrawForm(request.POST)
    if not form.is_valid():
        return _page(request, BringForm(person=person), withdrawing=(row, form), status=422)
    services.conversion_withdraw(person, conversion=row, why=form.cleaned_data["why"], at=timezone.now())
    return redirect("conversions")


def _page(
    request: HttpRequest,
    form: BringForm,
    *,
    withdrawing: tuple[BroughtConversion, WithdrawForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    person = person_of(request)
    rows = visible(person, BroughtConversion, action="compared")
    rows = rows.select_related("instrument", "brought_by", "withdrawn_by").order_by("-brought_at", "id")
    refused, bad = withdrawing or (None, None)
    context = {
        "in_use": [
            (Shown(row=row), bad if bad is not None and row == refused else WithdrawForm(auto_id=f"{row.pk}-%s"))
            for row in rows.filter(withdrawn_at=None)
        ],
        "withdrawn": [Shown(row=row) for row in rows.exclude(withdrawn_at=None)],
        "form": form,
        "may_lead": may(person, "lead"),
    }
    return render(request, "conversions/conversions.html", context, status=status)
