"""A few readings, and a whole survey, without the service: numpy and scipy are all that is needed, and nothing is sent.

python offline_margin.py
"""

from datetime import date

import numpy as np

from platemargin.hull_survey import hull_survey
from platemargin.plate_margin import plate_margin
from platemargin.rule_sets.trade_practice import rule_set

# A column a member, an item a reading; a pit that was not measured is NaN.
read = {"plate_mm": np.array([8.8, 9.4, 5.9]), "pit_depth_mm": np.array([2.6, np.nan, 2.3])}
answer = plate_margin(original_mm=10.0, years_in_service=16.0, threshold_mm=4.0, **read)
for margin, earliest in zip(answer.margin_mm, answer.years_low, strict=True):
    print(f"{margin:+.1f} mm to the limit of 4 mm, which it reaches in {earliest:.1f} years at the earliest")

survey = hull_survey(
    hull={"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6, "water": "fresh", "material": "steel", "construction": "welded"},
    built_on="2008",
    surveyed_on=date(2024, 12, 31),
    plating_notation="10/6/5",
    readings=[
        {"id": "aft", "zone": "baseplate", "side": "port", "station_m": 14.2, "plate_mm": 8.8, "pit_depth_mm": 2.6},
        {"id": "bow", "zone": "side", "side": "starboard", "station_m": 2.0, "plate_mm": 4.4, "pit_depth_mm": 0.6},
    ],
    rule_sets=[rule_set],
)
# As strict as the service: a side that nobody read keeps a survey from passing, and a broken limit comes before that.
print(f"{survey.verdict.name.lower()}: {survey.governing_reading} in zone {survey.governing_zone}")
for zone in survey.zones:
    print(f"{zone.zone}: {zone.thinnest_residual_mm:.1f} mm at the thinnest, {zone.rate_mm_per_year:.3f} mm/year")
