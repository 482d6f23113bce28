"""What a check costs: its way of looking, its minutes, and bits settled per minute.

Every number here is judgement. Minutes are those of staff and grower, not of waiting. Pure: no Django.
"""

from typing import Literal

from consults.diagnosis.next_check import MIN_MINUTES
from consults.ruleset.conditions import ONSET
from garden.reference.schema import Reading

Way = Literal["ask", "glance", "hand-lens", "lift-pot", "roots", "meter", "laboratory"]
WAYS: tuple[Way, ...] = ("ask", "glance", "hand-lens", "lift-pot", "roots", "meter", "laboratory")
"""From the least to the most trouble; of two checks that settle equally much per minute the first is made."""

ASK_MINUTES = 0.5
LABORATORY_MINUTES = 60.0  # taking, packing and sending a sample; the answer comes days later
_METER_MINUTES = {
    "air": 2.0,
    "light": 3.0,
    "feed": 3.0,
    "water": 5.0,
    "root-zone": 5.0,
    "runoff": 10.0,  # water first, then catch what drains
}
_OTHER_MINUTES = {
    "night_temp_c": 10.0,  # a minimum-maximum thermometer hung up and read the next day
    "night_rh_percent": 10.0,
    "photoperiod_h": 0.5,  # the timer is read, or the grower asked
    "water_sodium_mg_l": LABORATORY_MINUTES,
    "water_chloride_mg_l": LABORATORY_MINUTES,
}


def reading_effort(code: str, reading: Reading | None) -> tuple[Way, float]:
    """Return how a reading is taken and its minutes; `reading` is None for a number the grower tells."""
    if reading is None or code == ONSET:
        return "ask", ASK_MINUTES
    minutes = _OTHER_MINUTES.get(code, _METER_MINUTES[reading.place])
    if minutes >= LABORATORY_MINUTES:
        return "laboratory", minutes
    return ("ask", minutes) if minutes <= ASK_MINUTES else ("meter", minutes)


def per_minute(bits: float, minutes: float) -> float:
    """Return bits per minute, minutes below the floor of half a minute counting as that."""
    return bits / max(minutes, MIN_MINUTES)
