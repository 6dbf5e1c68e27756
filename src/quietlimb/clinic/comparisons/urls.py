"""Addresses of this room."""

from django.urls import path

from quietlimb.clinic.comparisons import views

urlpatterns = [
    path("comparisons", views.comparisons, name="comparisons"),
    path("comparisons/add", views.comparison_add, name="comparison-add"),
    path("comparisons/keep", views.comparison_keep, name="comparison-keep"),
    path("comparisons/pairs", views.comparison_pairs, name="comparison-pairs"),
    path("comparisons/<uuid:comparison_id>", views.comparison, name="comparison"),
    path("comparisons/<uuid:comparison_id>/figure", views.comparison_figure, name="comparison-figure"),
    path("comparisons/<uuid:comparison_id>/file", views.comparison_file, name="comparison-file"),
    path("comparisons/<uuid:comparison_id>/results", views.comparison_results, name="comparison-results"),
    path("comparisons/<uuid:comparison_id>/pdf", views.comparison_report, name="comparison-report"),
    path("comparisons/<uuid:comparison_id>/bundle", views.comparison_bundle, name="comparison-bundle"),
    path("comparisons/<uuid:comparison_id>/retire", views.comparison_retire, name="comparison-retire"),
]
