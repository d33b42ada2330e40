"""The walks and the record, under walks/."""

from django.urls import URLPattern, URLResolver, path

from hold_points.views import (
    across_houses,
    along,
    check,
    desk,
    evidence,
    found_on_site,
    hold,
    kept,
    pack,
    record,
    release,
    walk,
    walks,
)

app_name = "hold_points"

urlpatterns: list[URLPattern | URLResolver] = [
    path("", walks.walks, name="walks"),
    path("desk/", desk.desk, name="desk"),
    path("details/<slug:builder>/<slug:key>/", across_houses.across_houses, name="across_houses"),
    path("sw.js", along.worker, name="worker"),
    path("kept/", kept.kept, name="kept"),
    path("kept/who/", kept.who, name="who"),
    path("<int:inspection>/", walk.walk, name="walk"),
    path("<int:inspection>/rooms/<int:place>/", walk.room, name="room"),
    path("<int:inspection>/along/", along.along, name="along"),
    path("<int:inspection>/found/", found_on_site.found_on_site, name="found_on_site"),
    path("<int:inspection>/held/", hold.hold, name="hold"),
    path("<int:inspection>/photographs/", hold.photographs, name="photographs"),
    path("<int:inspection>/release/", release.release_point, name="release"),
    path("<int:inspection>/reopen/", hold.reopen_point, name="reopen"),
    path("checks/<int:check>/", check.check, name="check"),
    path("checks/<int:check>/kept/", kept.accept_kept, name="accept_kept"),
    path("checks/<int:check>/absent/", walks.confirm_absence, name="confirm_absence"),
    path("nonconformities/<int:nonconformity>/concession/", release.concession, name="concession"),
    path("nonconformities/<int:nonconformity>/decision/", release.decision, name="decision"),
    path("evidence/<int:evidence>/", evidence.evidence, name="evidence"),
    path("evidence/<int:evidence>/line/", evidence.evidence_line, name="evidence_line"),
    path("evidence/<int:evidence>/thumb/", evidence.thumb, name="evidence_thumb"),
    path("evidence/<int:evidence>/original/", evidence.original, name="evidence_original"),
    path("houses/<int:house>/record/", record.record, name="record"),
    path("houses/<int:house>/pack/<slug:reader>/", pack.pack, name="pack"),
    path("houses/<int:house>/pack/<slug:reader>/pdf/", pack.make_pdf, name="make_pack"),
    path("houses/<int:house>/pack/<slug:reader>.pdf", pack.pdf, name="pack_pdf"),
    path("houses/<int:house>/record.txt", record.record_file, name="record_file"),
    path("houses/<int:house>/seals.txt", record.seals_file, name="seals_file"),
]
