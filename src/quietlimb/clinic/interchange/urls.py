"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.interchange import views

urlpatterns = [
    path("sessions/<uuid:session_id>/bundle.json", views.session_fhir, name="session-fhir"),
    path("animals/<uuid:animal_id>/bundle.json", views.animal_fhir, name="animal-fhir"),
    path("animals/<uuid:animal_id>/sessions.csv", views.animal_csv, name="animal-csv"),
    path("animals/<uuid:animal_id>/import", views.sessions_import, name="sessions-import"),
    path("animals/<uuid:animal_id>/import/done", views.sessions_import_done, name="sessions-import-done"),
]
