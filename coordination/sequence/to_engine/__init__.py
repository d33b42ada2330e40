"""The only door to the engine: a house's rows become a network, the engine's answer becomes plain values.

What the engine is told:

* an activity works in the calendar of the crew that holds its visit's live booking, else in the house's;
  outdoor activities in the variant that also knows rain half-days;
* delays lengthen an activity that has not finished;
* the lag of an FS or SS relationship out of a hold is the word time: a crew's own value replaces it;
* the data date of a plan is the half-day up to which work is recorded, that of a forecast the present one;
* what waits for nothing waits for the house's start;
* what nothing waits for is wanted by the house's `required_by`, so that missing it shows as negative float.

Nothing here reads the clock, and nothing outside this package knows a type of the engine.
"""

from coordination.sequence.to_engine.builders_outlook import Foreseen, HouseAsked, foresee_houses
from coordination.sequence.to_engine.crew_fit import CrewFit, HouseFit, fit_houses
from coordination.sequence.to_engine.house_dates import solve
from coordination.sequence.to_engine.networks import network_of, word_time_of
from coordination.sequence.to_engine.outlook import (
    Assumptions,
    Habits,
    Outlook,
    Prospect,
    default_habits,
    find_ready,
    learn_habits,
)
from coordination.sequence.to_engine.scores import Score, score_by_confidence, score_together
from coordination.sequence.to_engine.soundness import Flaw, Soundness, judge_house, judge_sequence
from coordination.sequence.to_engine.warming import warm_engine

__all__ = [
    "Assumptions",
    "CrewFit",
    "Flaw",
    "Foreseen",
    "Habits",
    "HouseAsked",
    "HouseFit",
    "Outlook",
    "Prospect",
    "Score",
    "Soundness",
    "default_habits",
    "find_ready",
    "fit_houses",
    "foresee_houses",
    "judge_house",
    "judge_sequence",
    "learn_habits",
    "network_of",
    "score_by_confidence",
    "score_together",
    "solve",
    "warm_engine",
    "word_time_of",
]
