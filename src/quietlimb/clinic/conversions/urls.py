"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.conversions import views

urlpatterns = [
    path("comparisons/conversions", views.conversions, name="conversions"),
    path("comparisons/conversions/bring", views.conversion_bring, name="conversion-bring"),
    path("comparisons/conversions/<uuid:conversion_id>/file", views.conversion_file, name="conversion-file"),
    path(
        "comparisons/conversions/<uuid:conversion_id>/withdraw", views.conversion_withdraw, name="conversion-withdraw"
    ),
]
