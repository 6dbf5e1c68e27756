"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.sessions import views

urlpatterns = [
    path("start", views.start, name="start"),
    path("start/<uuid:animal_id>", views.start_with, name="start-with"),
    path("sessions/<uuid:session_id>", views.table, name="table"),
    path("sessions/<uuid:session_id>/series", views.another_series, name="another-series"),
    path("sessions/<uuid:session_id>/circumstances", views.circumstances, name="circumstances"),
    path("sessions/<uuid:session_id>/end", views.session_end, name="session-end"),
    path("series/<uuid:series_id>/part", views.series_part, name="series-part"),
    path("series/<uuid:series_id>/sentence", views.series_sentence, name="series-sentence"),
    path("series/<uuid:series_id>/readings", views.reading_add, name="reading-add"),
    path("readings/<uuid:reading_id>/strike", views.reading_strike, name="reading-strike"),
    path("animals/<uuid:animal_id>/cuffs", views.cuffs, name="cuffs"),
    path("sessions/<uuid:session_id>/settled", views.session_settle, name="session-settle"),
    path("sessions/<uuid:session_id>/call", views.session_call, name="session-call"),
]
