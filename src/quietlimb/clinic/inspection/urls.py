"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.inspection import views

urlpatterns = [path("practice/inspection", views.inspection, name="inspection")]
