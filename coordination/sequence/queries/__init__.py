"""What screens, reminders and feeds read: plain frozen values, in a fixed number of queries.

`board` for all houses of a builder, `programme` for one house, `crew_visits` and `visits_for` for crews.
"""

from coordination.sequence.queries.facts import BookingFact, HoldFact, PlaceFact, WindowFact
from coordination.sequence.queries.heeding import Heed, read_heeds
from coordination.sequence.queries.house_programme import programme
from coordination.sequence.queries.houses import BoardRow, StageSpan, Waits, board
from coordination.sequence.queries.programme_rows import (
    ActivityRow,
    DelayFact,
    DiaryLine,
    Programme,
    Revision,
    VisitRow,
)
from coordination.sequence.queries.visits_of_crew import (
    CrewVisit,
    DetailWork,
    WorkPiece,
    crew_visits,
    visits_for,
)

__all__ = [
    "ActivityRow",
    "BoardRow",
    "BookingFact",
    "CrewVisit",
    "DelayFact",
    "DetailWork",
    "DiaryLine",
    "Heed",
    "HoldFact",
    "PlaceFact",
    "Programme",
    "Revision",
    "StageSpan",
    "VisitRow",
    "Waits",
    "WindowFact",
    "WorkPiece",
    "board",
    "crew_visits",
    "programme",
    "read_heeds",
    "visits_for",
]
