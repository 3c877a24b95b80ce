"""Constants that several rooms share."""

from __future__ import annotations

GRAVITY_M_S2 = 9.80665  # standard gravity, by definition
MINUTES_A_DAY = 1440
SECONDS_A_MINUTE = 60.0
DAYS_A_YEAR = 365.0  # of money and of sums told as "a year"; leap days are not counted
