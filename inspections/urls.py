"""Addresses of the pages of the work."""

from django.urls import path

from inspections.pages import beside, calendars, chosen, coupling, due, fleet, prints, signing, start, visit, weeks

urlpatterns = [
    path("", start.start, name="start"),
    path("couplings/", start.couplings, name="couplings"),
    path("couplings/labels.pdf", prints.coupling_labels, name="coupling-labels"),
    path("couplings/<uuid:uuid>/job-card.pdf", prints.coupling_job_card, name="coupling-job-card"),
    path("couplings/<uuid:uuid>/", coupling.coupling, name="coupling"),
    path("couplings/<uuid:uuid>/begin/", coupling.begin, name="coupling-begin"),
    path("couplings/<uuid:uuid>/hours/", coupling.hours, name="coupling-hours"),
    path("flags/<uuid:uuid>/clear/", coupling.clear, name="flag-cleared"),
    path("calendars/", calendars.calendars, name="calendars"),
    path("calendars/<str:secret>.ics", calendars.feed, name="calendar-feed"),
    path("due/", due.due, name="due"),
    path("due/chosen/", chosen.chosen, name="due-chosen"),
    path("due/due.<slug:form>", due.due_export, name="due-export"),
    path("fleet/", fleet.fleet, name="fleet"),
    path("fleet/couplings/", fleet.fleet_couplings, name="fleet-couplings"),
    path("fleet/couplings.<slug:form>", fleet.fleet_export, name="fleet-export"),
    path("weeks/", weeks.weeks, name="weeks"),
    path("lists/", weeks.lists, name="lists"),
    path("visits/<uuid:uuid>/", visit.visit, name="visit"),
    path("visits/<uuid:uuid>/isolation/<slug:act>/", visit.isolation, name="visit-isolation"),
    path("visits/<uuid:uuid>/drop/", visit.drop, name="visit-drop"),
    path("visits/<uuid:uuid>/steps/<slug:key>/", visit.step, name="visit-step"),
    path("visits/<uuid:uuid>/steps/<slug:key>/<int:number>/", visit.step, name="visit-round"),
    path("visits/<uuid:uuid>/witness/", beside.witness, name="visit-witness"),
    path("visits/<uuid:uuid>/hand-over/", beside.note, name="visit-hand-over"),
    path("visits/<uuid:uuid>/run-up/", beside.run_up, name="visit-run-up"),
    path("visits/<uuid:uuid>/sign/", signing.sign, name="visit-sign"),
    path("visits/<uuid:uuid>/record/", signing.record, name="visit-record"),
    path("visits/<uuid:uuid>/certificate.pdf", prints.visit_certificate, name="visit-certificate"),
    path("visits/<uuid:uuid>/amend/<str:name>/", signing.amend, name="visit-amend"),
]
