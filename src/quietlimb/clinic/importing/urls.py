"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.importing import views

urlpatterns = [
    path("practice/import", views.import_file, name="import"),
    path("practice/import/done", views.import_done, name="import-done"),
]
