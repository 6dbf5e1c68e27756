"""All addresses of the clinic. Each one has a line in the table of rights that the tests walk."""

from django.urls import include, path

from quietlimb.clinic import today, trusting

urlpatterns = [
    path("", today.today, name="today"),
    path("trust", trusting.trust, name="trust"),
    path("trust/certificate", trusting.authority, name="trust-authority"),
    path("", include("quietlimb.clinic.people.urls")),
    path("", include("quietlimb.clinic.animals.urls")),
    path("", include("quietlimb.clinic.sessions.urls")),
    path("", include("quietlimb.clinic.recordings.urls")),
    path("", include("quietlimb.clinic.live.urls")),
    path("", include("quietlimb.clinic.desk.urls")),
    path("", include("quietlimb.clinic.practice.urls")),
    path("", include("quietlimb.clinic.staff.urls")),
    path("", include("quietlimb.clinic.bench.urls")),
    path("", include("quietlimb.clinic.equipment.urls")),
    path("", include("quietlimb.clinic.importing.urls")),
    path("", include("quietlimb.clinic.technique.urls")),
    path("", include("quietlimb.clinic.rechecks.urls")),
    path("", include("quietlimb.clinic.inspection.urls")),
    path("", include("quietlimb.clinic.interchange.urls")),
    path("", include("quietlimb.clinic.research.urls")),
    path("", include("quietlimb.clinic.corrections.urls")),
    path("", include("quietlimb.clinic.comparisons.urls")),
    path("", include("quietlimb.clinic.conversions.urls")),
    path("", include("quietlimb.clinic.teaching.urls")),
]

handler403 = "quietlimb.clinic.frame.refused"
handler404 = "quietlimb.clinic.frame.not_here"
