"""Addresses of live captures."""

from django.urls import path

from quietlimb.clinic.live import views

urlpatterns = [
    path("series/<uuid:series_id>/live", views.live_start, name="live-start"),
    path("series/<uuid:series_id>/live/stop", views.live_stop, name="live-stop"),
    path("series/<uuid:series_id>/live/news", views.live_stream, name="live-stream"),
    path("series/<uuid:series_id>/live/here", views.live_here, name="live-here"),
    path("series/<uuid:series_id>/live/look", views.live_look, name="live-look"),
    path("series/<uuid:series_id>/live/recover", views.live_recover, name="live-recover"),
]
