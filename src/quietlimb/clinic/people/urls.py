"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.people import views

urlpatterns = [
    path("sign-in", views.sign_in, name="sign-in"),
    path("change-person", views.change_person, name="change-person"),
    path("sign-out", views.sign_out, name="sign-out"),
    path("here", views.here, name="here"),
    path("first", views.first_lead, name="first-lead"),
    path("me", views.own_page, name="own-page"),
    path("me/password", views.own_password, name="own-password"),
    path("me/choices", views.own_choices, name="own-choices"),
]
