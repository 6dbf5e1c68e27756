"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.technique import views

urlpatterns = [path("practice/technique", views.technique, name="technique")]
