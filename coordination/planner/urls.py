"""The builder's screens."""

from django.urls import URLPattern, URLResolver, path

from coordination.planner.views import (
    bookings,
    change,
    crews,
    details,
    house,
    houses,
    moves,
    ordered,
    progress,
    sequences,
    set_out,
    slip,
    visits,
)

app_name = "planner"

urlpatterns: list[URLPattern | URLResolver] = [
    path("", houses.houses, name="houses"),
    path("houses/new/", set_out.set_out, name="set_out"),
    path("houses/new/file/", set_out.set_out_file, name="set_out_file"),
    path("houses/<int:house>/", house.house, name="house"),
    path("houses/<int:house>/ordered/", ordered.ordered, name="ordered"),
    path("houses/<int:house>/record/", house.house_record, name="house_record"),
    path("houses/<int:house>/change/", change.change, name="change"),
    path("houses/<int:house>/details/", details.details, name="details"),
    path("houses/<int:house>/details/<int:detail>/", details.detail, name="detail"),
    path("houses/<int:house>/moves/", moves.moves, name="moves"),
    path("houses/<int:house>/progress/", progress.progress, name="progress"),
    path("houses/<int:house>/progress/take-back/", progress.retract, name="retract"),
    path("houses/<int:house>/slip/", slip.slip, name="slip"),
    path("houses/<int:house>/visits/", visits.visits, name="visits"),
    path("houses/<int:house>/visits/<int:visit>/", visits.visit, name="visit"),
    path("houses/<int:house>/visits/<int:visit>/crew/", bookings.crew, name="crew_of_visit"),
    path("houses/<int:house>/visits/<int:visit>/pencil/", bookings.pencil, name="pencil"),
    path("houses/<int:house>/visits/<int:visit>/firm/", bookings.make_firm, name="make_firm"),
    path("houses/<int:house>/visits/<int:visit>/stand-down/", bookings.stand_down, name="stand_down"),
    path("houses/<int:house>/visits/<int:visit>/reserve/<int:reserved>/", bookings.reserve, name="reserve"),
    path("crews/", crews.crews, name="crews"),
    path("crews/<int:crew>/", crews.crew, name="crew"),
    path("crews/<int:crew>/link/", crews.new_link, name="new_link"),
    path("crews/<int:crew>/link/revoke/", crews.revoke, name="revoke_links"),
    path("crews/<int:crew>/word-time/", crews.word_time, name="word_time"),
    path("crews/<int:crew>/reserve/", crews.reserve, name="reserve_time"),
    path("sequences/", sequences.sequences, name="sequences"),
    path("sequences/publish/", sequences.publish, name="publish"),
    path("sequences/<int:version>/", sequences.sequence, name="sequence"),
]
