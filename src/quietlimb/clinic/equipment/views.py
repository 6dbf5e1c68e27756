"""Instruments and cuffs: everybody looks, the practice lead changes."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l
from django.views.decorators.http import require_http_methods, require_safe

from quietlimb.clinic.changes import changes_asked
from quietlimb.clinic.equipment.forms import NUMBERS, CuffForm, InstrumentForm, new_instrument
from quietlimb.clinic.equipment.models import Cuff, Instrument, Technique
from quietlimb.clinic.equipment.services import EquipmentError, thing_add, thing_change
from quietlimb.clinic.journal.changing import changes_of
from quietlimb.clinic.lists import asked_of_a_list
from quietlimb.clinic.rights import fetch, may, needs, person_of, visible

CHOICES = {
    "show": (_l("Show"), [("", _l("all")), ("in", _l("in service")), ("out", _l("out of service"))]),
    "technique": (_l("Method"), [("", _l("all methods")), *Technique.choices]),
    "sort": (_l("Sort by"), [("", _l("in service first, cuffs by width")), ("name", _l("name"))]),
}


@needs("look")
@require_safe
def instruments(request: HttpRequest) -> HttpResponse:
    """All instruments and cuffs, those out of service last."""
    person = person_of(request)
    asked = asked_of_a_list(request, CHOICES)
    found, cuffs = visible(person, Instrument), visible(person, Cuff)
    if asked.of("show"):
        out = asked.of("show") == "out"
        found, cuffs = found.filter(out_of_service=out), cuffs.filter(out_of_service=out)
    if asked.of("technique"):
        found = found.filter(technique=asked.of("technique"))
    by_name = asked.of("sort") == "name"
    found = found.order_by("name", "id") if by_name else found.order_by("out_of_service", "name", "id")
    cuffs = cuffs.order_by("name", "id") if by_name else cuffs.order_by("out_of_service", "width_cm", "id")
    context = {
        "asked": asked,
        "instruments": [(each, ", ".join(str(NUMBERS[slot]) for slot in each.slots)) for each in found],
        "cuffs": cuffs,
        "may_lead": may(person, "lead"),
    }
    return render(request, "equipment/instruments.html", context)


@needs("lead")
@require_http_methods(["GET", "POST"])
def instrument_add(request: HttpRequest) -> HttpResponse:
    """A new instrument."""
    others = visible(person_of(request), Instrument)
    form = InstrumentForm(request.POST or None, instance=new_instrument(), others=others)
    return _add(request, form, _("Add an instrument"))


@needs("lead")
@require_http_methods(["GET", "POST"])
def instrument(request: HttpRequest, instrument_id: uuid.UUID) -> HttpResponse:
    """One instrument, and what was changed of it."""
    person = person_of(request)
    row = fetch(person, "lead", Instrument, pk=instrument_id)
    return _change(request, InstrumentForm(request.POST or None, instance=row, others=visible(person, Instrument)), row)


@needs("lead")
@require_http_methods(["GET", "POST"])
def cuff_add(request: HttpRequest) -> HttpResponse:
    """A new cuff."""
    others = visible(person_of(request), Cuff)
    return _add(request, CuffForm(request.POST or None, others=others), _("Add a cuff"))


@needs("lead")
@require_http_methods(["GET", "POST"])
def cuff(request: HttpRequest, cuff_id: uuid.UUID) -> HttpResponse:
    """One cuff, and what was changed of it."""
    person = person_of(request)
    row = fetch(person, "lead", Cuff, pk=cuff_id)
    return _change(request, CuffForm(request.POST or None, instance=row, others=visible(person, Cuff)), row)


def _add(request: HttpRequest, form: InstrumentForm | CuffForm, title: str) -> HttpResponse:
    if form.is_valid():
        thing_add(person_of(request), form.save(commit=False))
        return redirect("instruments")
    status = 200 if request.method == "GET" else 422
    return render(request, "equipment/thing.html", {"form": form, "title": title}, status=status)


def _change(request: HttpRequest, form: InstrumentForm | CuffForm, row: Instrument | Cuff) -> HttpResponse:
    person, title = person_of(request), row.name
    if form.is_valid():
        try:
            thing_change(person, form.save(commit=False), why=form.cleaned_data["why"])
        except EquipmentError as error:
            form.add_error(error.field, f"{error.says}; {error.remedy}.")
        else:
            return redirect("instruments")
    asked = changes_asked(request)
    context = {"form": form, "title": title, "changes": changes_of(row, asked=asked), "asked_changes": asked}
    return render(request, "equipment/thing.html", context, status=200 if request.method == "GET" else 422)
