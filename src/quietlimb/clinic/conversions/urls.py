"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.conversions import views

urlpatterns = [
    path("conversions", views.conversions, name="conversions"),
    path("conversions/bring", views.conversion_bring, name="conversion-bring"),
    path("conversions/<uuid:conversion_id>/file", views.conversion_file, name="conversion-file"),
    path("conversions/<uuid:conversion_id>/withdraw", views.conversion_withdraw, name="conversion-withdraw"),
]
