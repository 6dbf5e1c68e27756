"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.desk import views

urlpatterns = [
    path("sessions/<uuid:session_id>/result", views.result, name="result"),
    path("sessions/<uuid:session_id>/picture.svg", views.session_picture, name="session-picture"),
    path("sessions/<uuid:session_id>/organs", views.organs_add, name="organs-add"),
    path("sessions/<uuid:session_id>/sign", views.sign, name="sign"),
    path("sessions/<uuid:session_id>/late", views.late_readings, name="late-readings"),
    path("sessions/<uuid:session_id>/amend", views.amend, name="amend"),
    path("sessions/<uuid:session_id>/page.pdf", views.page, name="session-page"),
    path("sessions/<uuid:session_id>/owner", views.owner_page, name="owner-page"),
    path("sessions/<uuid:session_id>/owner.pdf", views.owner_pdf, name="owner-pdf"),
    path("sessions/<uuid:session_id>/readings.csv", views.readings, name="session-readings"),
    path("animals/<uuid:animal_id>", views.animal, name="animal"),
    path("animals/<uuid:animal_id>/months.svg", views.months_picture, name="months-picture"),
    path("animals/<uuid:animal_id>/events", views.event_add, name="event-add"),
    path("animals/<uuid:animal_id>/conditions", views.condition_add, name="condition-add"),
    path("conditions/<uuid:condition_id>/end", views.condition_end, name="condition-end"),
]
