"""Signing in and out, changing person, the first lead."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import logout, update_session_auth_hash
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quietlimb.clinic.people import first_leads, passwords, short_codes, signing_in, throttling
from quietlimb.clinic.people.choices import own_choices_set
from quietlimb.clinic.people.expiry import asked_by_the_page, resting
from quietlimb.clinic.people.forms import (
    ChangePersonForm,
    ChoicesForm,
    FirstLeadForm,
    PasswordForm,
    ShortCodeForm,
    SignInForm,
)
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.rights import Action, may, needs, person_of

MOST_TRAINED = 50
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
    """Sets up a practice and its lead, for whoever has seen the code where the clinic runs; gone afterwards."""
    if not first_leads.page_is_open():
        raise Http404(_("There is no such page here."))
    form = FirstLeadForm(request.POST or None, first_of_all=signing_in.first_lead_is_missing())
    form.is_valid()
    if request.method == "POST":
        # the code too where something else is wrong, so that all of it is told at once
        practice = first_leads.practice_opened(request, form.cleaned_data["code"]) if _is_typed(form) else None
        if practice is None and "code" not in form.errors:
            form.add_error("code", _refusal(first_leads.wait_for_first(request), _("This is not the code.")))
        if practice is not None and form.is_valid():
            told = {"practice_name": practice.name, **form.cleaned_data}
            told.pop("code")
            first_leads.first_lead_make(practice, **told)
            signing_in.sign_in(request, username=told["username"], password=told["password"])
            return redirect("today")
    return render(request, "people/first_lead.html", {"form": form}, status=200 if request.method == "GET" else 422)


def _is_typed(form: FirstLeadForm) -> bool:
    return "code" in form.cleaned_data


@needs()
@require_http_methods(["GET", "POST"])
def own_page(request: HttpRequest) -> HttpResponse:
    """One's own page: the short code."""
    form = ShortCodeForm(request.POST or None)
    if not form.is_valid():
        return _own_page(request, status=200 if request.method == "GET" else 422, form=form)
    person = person_of(request)
    wait = throttling.try_sign_in(person.username, throttling.address_of(request))
    if wait or not short_codes.short_code_set(person, **form.cleaned_data):
        form.add_error("password", _refusal(wait, _("This is not your password.")))
        return _own_page(request, status=422, form=form)
    throttling.signed_in(person, throttling.address_of(request))
    return _own_page(request, form=form, saved=True)


@needs()
@require_POST
def own_password(request: HttpRequest) -> HttpResponse:
    """Another password of one's own; every other browser that knew the old one is a stranger again."""
    person = person_of(request)
    form = PasswordForm(request.POST, person=person)
    if not form.is_valid():
        return _own_page(request, status=422, password_form=form)
    wait = throttling.try_sign_in(person.username, throttling.address_of(request))
    told = form.cleaned_data
    if wait or not passwords.password_change(person, old=told["old"], new=told["new"]):
        form.add_error("old", _refusal(wait, _("This is not your password.")))
        return _own_page(request, status=422, password_form=form)
    throttling.signed_in(person, throttling.address_of(request))
    update_session_auth_hash(request, person)
    return _own_page(request, password_saved=True)


def _own_page(request: HttpRequest, *, status: int = 200, **told: Any) -> HttpResponse:
    """The page; forms that were refused stand in place of fresh ones."""
    person = person_of(request)
    fresh = {
        "form": ShortCodeForm(),
        "choices": ChoicesForm(instance=person),
        "password_form": PasswordForm(person=person),
        "trained": person.training_results.all()[:MOST_TRAINED],
    }
    return render(request, "people/own_page.html", {**fresh, **told}, status=status)


@needs()
@require_POST
def own_choices(request: HttpRequest) -> HttpResponse:
    """One's own choices: unit of pressures, buttons for the left hand."""
    person = person_of(request)
    form = ChoicesForm(request.POST, instance=person)
    if form.is_valid():
        own_choices_set(person, **form.cleaned_data)
        return redirect("own-page")
    return _own_page(request, status=422, choices=form)


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
