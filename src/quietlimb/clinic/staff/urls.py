"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.staff import views

urlpatterns = [
    path("practice/people", views.people, name="people"),
    path("practice/people/add", views.person_add, name="person-add"),
    path("practice/people/<uuid:person_id>", views.person, name="person"),
    path("practice/people/<uuid:person_id>/code", views.person_code, name="person-code"),
    path("practice/people/<uuid:person_id>/role", views.person_role, name="person-role"),
    path("practice/people/<uuid:person_id>/active", views.person_active, name="person-active"),
    path("practice/people/<uuid:person_id>/competence", views.competence_add, name="competence-add"),
    path("practice/competence/<uuid:competence_id>", views.competence, name="competence"),
    path("welcome", views.welcome, name="welcome"),
]
