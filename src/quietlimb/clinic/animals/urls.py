"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.animals import views

urlpatterns = [path("animals", views.animals, name="animals")]
