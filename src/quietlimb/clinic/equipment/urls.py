"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.equipment import views

urlpatterns = [
    path("instruments", views.instruments, name="instruments"),
    path("instruments/add", views.instrument_add, name="instrument-add"),
    path("instruments/<uuid:instrument_id>", views.instrument, name="instrument"),
    path("instruments/<uuid:instrument_id>/edit", views.instrument_edit, name="instrument-edit"),
    path("instruments/cuffs/add", views.cuff_add, name="cuff-add"),
    path("instruments/cuffs/<uuid:cuff_id>", views.cuff, name="cuff"),
    path("instruments/cuffs/<uuid:cuff_id>/edit", views.cuff_edit, name="cuff-edit"),
]
