"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.recordings import views

urlpatterns = [
    path("series/<uuid:series_id>/recordings", views.recording_add, name="recording-add"),
    path("readings/<uuid:reading_id>/recording", views.recording, name="recording"),
    path("readings/<uuid:reading_id>/recording/picture", views.recording_picture, name="recording-picture"),
    path("readings/<uuid:reading_id>/recording/file", views.recording_file, name="recording-file"),
    path("readings/<uuid:reading_id>/recording/again", views.recording_again, name="recording-again"),
]
