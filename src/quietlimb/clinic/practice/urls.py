"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.practice import views

urlpatterns = [
    path("practice", views.practice, name="practice"),
    path("practice/settings", views.settings, name="practice-settings"),
]
