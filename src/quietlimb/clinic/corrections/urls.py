"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.corrections import views

urlpatterns = [
    path("animals/<uuid:animal_id>/edit", views.animal_edit, name="animal-edit"),
    path("animals/<uuid:animal_id>/merge", views.animal_merge, name="animal-merge"),
    path("sessions/<uuid:session_id>/animal", views.session_move, name="session-move"),
]
