"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.research import views

urlpatterns = [path("export", views.export, name="export")]
