"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.bench import views

urlpatterns = [
    path("instruments/schedule", views.schedule, name="check-schedule"),
    path("instruments/<uuid:instrument_id>/check", views.instrument_check, name="instrument-check"),
    path("instruments/cuffs/<uuid:cuff_id>/check", views.cuff_check, name="cuff-check"),
    path("instruments/checks/<uuid:check_id>", views.check, name="check"),
    path("instruments/checks/<uuid:check_id>/correct", views.check_correct, name="check-correct"),
    path("instruments/checks/<uuid:check_id>/decide", views.decide, name="decide"),
    path("instruments/checks/<uuid:check_id>/picture", views.check_picture, name="check-picture"),
    path("instruments/checks/<uuid:check_id>/recording", views.check_recording, name="check-recording"),
]
