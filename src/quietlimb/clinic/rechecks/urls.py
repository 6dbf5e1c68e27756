"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.rechecks import views

urlpatterns = [
    path("due/<uuid:recheck_id>/contact", views.contact, name="recheck-contact"),
    path("due/<uuid:recheck_id>/letter", views.letter, name="recheck-letter"),
]
