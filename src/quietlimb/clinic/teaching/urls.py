"""Addresses of learning. Those under `training` are in the teaching room alone."""

from django.urls import path

from quietlimb.clinic.teaching import at_the_cuff, views

urlpatterns = [
    path("teaching", views.teaching, name="teaching"),
    path("teaching/begin", views.begin, name="teaching-begin"),
    path("teaching/results/<uuid:run_id>", views.claim, name="teaching-claim"),
    path("teaching/results/<uuid:run_id>/back", views.take_back, name="teaching-take-back"),
    path("teaching/class", views.of_a_class, name="teaching-class"),
    path("teaching/cases/add", views.case_add, name="teaching-case-add"),
    path("teaching/cases/<uuid:case_id>/retire", views.case_retire, name="teaching-case-retire"),
    path("training/series/<uuid:series_id>/inflate", at_the_cuff.inflate, name="training-inflate"),
    path("training/sessions/<uuid:session_id>/wait", at_the_cuff.wait, name="training-wait"),
    path("training/sessions/<uuid:session_id>/debrief", at_the_cuff.debrief, name="training-debrief"),
]
