"""All addresses of the clinic. Each one has a line in the table of rights that the tests walk."""

from django.urls import include, path

from quietlimb.clinic import today

urlpatterns = [
    path("", today.today, name="today"),
    path("", include("quietlimb.clinic.people.urls")),
    path("", include("quietlimb.clinic.animals.urls")),
    path("", include("quietlimb.clinic.sessions.urls")),
    path("", include("quietlimb.clinic.practice.urls")),
    path("", include("quietlimb.clinic.staff.urls")),
    path("", include("quietlimb.clinic.equipment.urls")),
    path("", include("quietlimb.clinic.importing.urls")),
    path("", include("quietlimb.clinic.technique.urls")),
    path("", include("quietlimb.clinic.rechecks.urls")),
    path("", include("quietlimb.clinic.inspection.urls")),
]

handler403 = "quietlimb.clinic.frame.refused"
handler404 = "quietlimb.clinic.frame.not_here"
