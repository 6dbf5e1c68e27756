"""The register of instruments and cuffs: everybody looks, the practice lead changes."""

from __future__ import annotations

import uuid
from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l
from django.views.decorators.http import require_http_methods, require_safe

from quietlimb.clinic.bench.chart import charts_of
from quietlimb.clinic.bench.doubts import Line, last_cleaned, line_of_one, register, sessions_with
from quietlimb.clinic.bench.judging import told_of_check
from quietlimb.clinic.bench.standing import WORST_FIRST, offered
from quietlimb.clinic.changes import changes_asked
from quietlimb.clinic.equipment.forms import NUMBERS, CuffForm, InstrumentForm, new_instrument
from quietlimb.clinic.equipment.models import Check, Cuff, Gauge, Instrument, Technique
from quietlimb.clinic.equipment.services import EquipmentError, thing_add, thing_change
from quietlimb.clinic.journal.changing import changes_of
from quietlimb.clinic.lists import asked_of_a_list
from quietlimb.clinic.rights import fetch, may, needs, person_of, visible

CHOICES = {
    "show": (
        _l("Show"),
        [
            ("", _l("all")),
            ("asks", _l("due, overdue or failed")),
            ("in", _l("in service")),
            ("out", _l("out of service")),
            ("lent", _l("on loan")),
        ],
    ),
    "technique": (_l("Kind"), [("", _l("all kinds")), *Technique.choices, *Gauge.choices]),
    "sort": (_l("Sort by"), [("", _l("in service first, cuffs by width")), ("name", _l("name")), ("due", _l("due"))]),
}
MOST_SESSIONS, MOST_CHECKS = 20, 50


@needs("look")
@require_safe
def instruments(request: HttpRequest) -> HttpResponse:
    """The register: all instruments and cuffs, each with its state, those out of service last."""
    person, today = person_of(request), timezone.localdate()
    asked = asked_of_a_list(request, CHOICES)
    found, cuffs = visible(person, Instrument), visible(person, Cuff)
    shown = asked.of("show")
    if shown in ("in", "out"):
        found, cuffs = found.filter(out_of_service=shown == "out"), cuffs.filter(out_of_service=shown == "out")
    elif shown == "lent":
        found, cuffs = found.exclude(loan=""), cuffs.exclude(loan="")
    kind = asked.of("technique")
    if kind:
        found = found.filter(gauge=kind) if kind in Gauge.values else found.filter(technique=kind)
    by_name = asked.of("sort") == "name"
    found = found.order_by("name", "id") if by_name else found.order_by("out_of_service", "name", "id")
    cuffs = cuffs.order_by("name", "id") if by_name else cuffs.order_by("out_of_service", "width_cm", "id")
    lines = [register(person.practice, list(rows), today) for rows in (found.select_related("read_on"), cuffs)]
    if shown == "asks":
        lines = [[line for line in each if line.asks] for each in lines]
    if asked.of("sort") == "due":
        lines = [sorted(each, key=_by_due) for each in lines]
    context = {
        "asked": asked,
        "instruments": [(line, _shows(line.thing)) for line in lines[0]],
        "cuffs": lines[1],
        "may_lead": may(person, "lead"),
    }
    return render(request, "equipment/instruments.html", context)


def _by_due(line: Line) -> tuple[bool, int, date]:
    standing = line.standing
    return line.thing.out_of_service, WORST_FIRST.index(standing.state), standing.on or date.max


def _shows(thing: Instrument | Cuff) -> str:
    """The numbers on a display in their order; a gauge has none."""
    if isinstance(thing, Cuff) or thing.gauge:
        return ""
    return ", ".join(str(NUMBERS[slot]) for slot in thing.slots)


@needs("lead")
@require_http_methods(["GET", "POST"])
def instrument_add(request: HttpRequest) -> HttpResponse:
    """A new instrument."""
    others = visible(person_of(request), Instrument)
    form = InstrumentForm(request.POST or None, instance=new_instrument(), others=others)
    return _add(request, form, _("Add an instrument"))


@needs("look")
@require_safe
def instrument(request: HttpRequest, instrument_id: uuid.UUID) -> HttpResponse:
    """One instrument: how it stands, its checks as charts, the sessions with it, what was changed of it."""
    return _thing(request, fetch(person_of(request), "look", Instrument, pk=instrument_id))


@needs("look")
@require_safe
def cuff(request: HttpRequest, cuff_id: uuid.UUID) -> HttpResponse:
    """One cuff, in the same way."""
    return _thing(request, fetch(person_of(request), "look", Cuff, pk=cuff_id))


@needs("lead")
@require_http_methods(["GET", "POST"])
def instrument_edit(request: HttpRequest, instrument_id: uuid.UUID) -> HttpResponse:
    """What the register says of an instrument."""
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
def cuff_edit(request: HttpRequest, cuff_id: uuid.UUID) -> HttpResponse:
    """What the register says of a cuff."""
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
            return redirect("cuff" if isinstance(row, Cuff) else "instrument", row.pk)
    asked = changes_asked(request)
    context = {"form": form, "title": title, "changes": changes_of(row, asked=asked), "asked_changes": asked}
    return render(request, "equipment/thing.html", context, status=200 if request.method == "GET" else 422)


def _thing(request: HttpRequest, row: Instrument | Cuff) -> HttpResponse:
    person, today = person_of(request), timezone.localdate()
    asked = changes_asked(request)
    line = line_of_one(row, person.practice, today)
    checks = visible(person, Check).filter(**{"cuff" if isinstance(row, Cuff) else "instrument": row})
    every = list(checks.select_related("by", "corrected_by").order_by("-done_at", "-entered_at"))
    used = sessions_with(row).select_related("animal__owner").order_by("-started_at", "id")
    context = {
        "thing": row,
        "is_cuff": isinstance(row, Cuff),
        "line": line,
        "shown": _shows(row),
        "kinds": offered(row) if may(person, "check", row) else (),
        "charts": charts_of(every, person.pressure_unit, today),
        "checks": [(each, told_of_check(each)) for each in every[:MOST_CHECKS]],
        "count": len(every),
        "sessions": used[:MOST_SESSIONS],
        "session_count": used.count(),
        "may_lead": may(person, "lead", row),
        "cleaned": last_cleaned(row, every),
        "changes": changes_of(row, asked=asked),
        "asked_changes": asked,
    }
    return render(request, "equipment/one.html", context)
