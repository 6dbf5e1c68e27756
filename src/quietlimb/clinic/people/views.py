"""Signing in and out, changing person, the first lead."""

from __future__ import annotations

from django.contrib.auth import logout
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quietlimb.clinic.people import short_codes, signing_in, throttling
from quietlimb.clinic.people.choices import own_choices_set
from quietlimb.clinic.people.expiry import asked_by_the_page, resting
from quietlimb.clinic.people.forms import ChangePersonForm, ChoicesForm, FirstLeadForm, ShortCodeForm, SignInForm
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.rights import Action, may, needs, person_of

FIRST_PAGES: tuple[tuple[str, Action], ...] = (("today", "look"), ("export", "export"))


@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Name and password; where nobody exists yet, the way to the first lead."""
    if signing_in.first_lead_is_missing():
        return redirect("first-lead")
    form = SignInForm(request.POST or None)
    if form.is_valid():
        found = signing_in.sign_in(
            request, username=form.cleaned_data["username"], password=form.cleaned_data["password"]
        )
        if not isinstance(found, int):
            return _onwards(request)
        form.add_error(None, _refusal(found, _("Name or password is wrong.")))
    here = signing_in.known_here(request)
    leaving = request.user if isinstance(request.user, Person) else None
    change = None
    if here:
        people = short_codes.people_with_one(here)
        change = ChangePersonForm(people=people, resting=resting(request), leaving=leaving)
        form = form.without_focus() if change.people else form
    status = 200 if request.method == "GET" else 422
    context = {"form": form, "change": change, "here": here, "next": _next(request)}
    return render(request, "people/sign_in.html", context, status=status)


@require_POST
def change_person(request: HttpRequest) -> HttpResponse:
    """Come back after a rest, or take over, by short code."""
    here = signing_in.known_here(request)
    if here is None:
        return redirect("sign-in")
    change = ChangePersonForm(request.POST, people=short_codes.people_with_one(here))
    if change.is_valid():
        username = change.cleaned_data["username"]
        if signing_in.change_person(request, username=username, code=change.cleaned_data["code"]):
            return _onwards(request)
        spent = throttling.needs_password(username)
        told = _("Too many tries. Sign in with your password.") if spent else _("This is not the short code.")
        change.add_error(None, told)
    form = SignInForm().without_focus() if change.people else SignInForm()
    context = {"form": form, "change": change, "here": here, "next": _next(request)}
    return render(request, "people/sign_in.html", context, status=422)


@asked_by_the_page
@require_safe
def here(request: HttpRequest) -> HttpResponse:
    """Who is at work in this browser, for a page that was loaded before, and a fresh token for its forms."""
    person = request.user if isinstance(request.user, Person) else None
    told = {"person": person and str(person.pk), "practice": person and str(person.practice_id)}
    return JsonResponse({**told, "token": get_token(request)}, headers={"Cache-Control": "no-store"})


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Leave; this browser is a stranger again."""
    logout(request)
    return redirect("sign-in")


@require_http_methods(["GET", "POST"])
def first_lead(request: HttpRequest) -> HttpResponse:
    """Makes the first practice and its lead, for whoever has seen the code at the start; gone afterwards."""
    if not signing_in.first_lead_is_missing():
        raise Http404(_("There is no such page here."))
    form = FirstLeadForm(request.POST or None)
    if form.is_valid():
        told = dict(form.cleaned_data)
        if not signing_in.opens_first(request, told.pop("code")):
            wait = signing_in.wait_for_first(request)
            form.add_error("code", _refusal(wait, _("This is not the code that was printed.")))
        else:
            signing_in.first_lead_make(**told)
            signing_in.sign_in(request, username=told["username"], password=told["password"])
            return redirect("today")
    return render(request, "people/first_lead.html", {"form": form}, status=200 if request.method == "GET" else 422)


@needs()
@require_http_methods(["GET", "POST"])
def own_page(request: HttpRequest) -> HttpResponse:
    """One's own page: the short code."""
    form = ShortCodeForm(request.POST or None)
    saved = False
    if form.is_valid():
        person = person_of(request)
        wait = throttling.try_sign_in(person.username, throttling.address_of(request))
        saved = not wait and short_codes.short_code_set(
            person, password=form.cleaned_data["password"], code=form.cleaned_data["code"]
        )
        if saved:
            throttling.signed_in(person, throttling.address_of(request))
        else:
            form.add_error("password", _refusal(wait, _("This is not your password.")))
    status = 200 if request.method == "GET" or saved else 422
    context = {"form": form, "saved": saved, "choices": ChoicesForm(instance=person_of(request))}
    return render(request, "people/own_page.html", context, status=status)


@needs()
@require_POST
def own_choices(request: HttpRequest) -> HttpResponse:
    """One's own choices: unit of pressures, buttons for the left hand."""
    person = person_of(request)
    form = ChoicesForm(request.POST, instance=person)
    if form.is_valid():
        own_choices_set(person, **form.cleaned_data)
        return redirect("own-page")
    context = {"form": ShortCodeForm(), "choices": form}
    return render(request, "people/own_page.html", context, status=422)


def _refusal(wait_s: int, wrong: str) -> str:
    if not wait_s:
        return wrong
    return ngettext(
        "Too many tries. Wait %(wait)d second, then try again.",
        "Too many tries. Wait %(wait)d seconds, then try again.",
        wait_s,
    ) % {"wait": wait_s}


def _next(request: HttpRequest) -> str:
    """Where somebody was going, if that is here."""
    asked = request.POST.get("next") or request.GET.get("next") or ""
    secure = request.is_secure()
    return asked if url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=secure) else ""


def _onwards(request: HttpRequest) -> HttpResponse:
    """Where somebody was going; else Today, or where nothing of today is hers to see, the export or her own page."""
    first = [name for name, action in FIRST_PAGES if may(request.user, action)]
    return HttpResponseRedirect(_next(request) or resolve_url(first[0] if first else "own-page"))
