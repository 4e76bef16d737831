"""The ``[[cooling]]`` sheet: one steady run under load, and what a cold look at cap and system gave.

Default uncertainties are judgement: sensors of the vehicle 1.5 K, power on rollers 5 %, workshop gauges 5 kPa.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Field, Section

COOLING: Final = Section(
    "cooling",
    "coolant temperature under steady load, cap and pressure test",
    (
        Field(
            "coolant_temperature",
            "quantity",
            kind="temperature",
            text="coolant at the outlet, settled",
            usual=(348.15, 383.15),
            possible=(253.15, 423.15),
            u=1.5,
        ),
        Field(
            "ambient_temperature",
            "quantity",
            kind="temperature",
            text="air in front of the radiator, not the weather report's",
            usual=(263.15, 313.15),
            possible=(233.15, 333.15),
            u=1.5,
        ),
        Field(
            "power",
            "quantity",
            kind="power",
            text="power at the crank that was held",
            usual=(10e3, 300e3),
            possible=(1e3, 2e6),
            u_relative=0.05,
        ),
        Field(
            "steady_time",
            "quantity",
            kind="time",
            text="how long load and coolant temperature had been steady",
            usual=(180.0, 1200.0),
            possible=(0.0, 36_000.0),
        ),
        Field(
            "air",
            "choice",
            text="what moved the air through the radiator",
            choices=("road", "rollers_with_fan", "rollers_without_fan"),
        ),
        Field(
            "road_speed",
            "quantity",
            kind="speed",
            text="road speed of the run",
            usual=(80 / 3.6, 200 / 3.6),
            possible=(0.0, 120.0),
        ),
        Field(
            "thermostat_open_temperature",
            "quantity",
            kind="temperature",
            text="temperature at which the thermostat is fully open",
            usual=(353.15, 378.15),
            possible=(323.15, 393.15),
            help="stamped on it, or the maker's; below it a steady reading shows the thermostat, not the radiator",
        ),
        Field(
            "maker_temperature_limit",
            "quantity",
            kind="temperature",
            text="highest coolant temperature that the maker allows",
            usual=(378.15, 398.15),
            possible=(353.15, 423.15),
        ),
        Field(
            "glycol_share",
            "quantity",
            kind="share_volume",
            text="ethylene glycol in the coolant by volume; not known, or another coolant: leave it out",
            usual=(0.33, 0.6),
            possible=(0.0, 0.7),
            u=0.03,
            caution="Coolant is poisonous and runs off sweet: keep it away from animals.",
        ),
        Field(
            "cap_marked",
            "quantity",
            kind="pressure_gauge",
            text="opening pressure stamped on the cap",
            usual=(90e3, 150e3),
            possible=(0.0, 300e3),
            u=5e3,
        ),
        Field(
            "cap_tested",
            "quantity",
            kind="pressure_gauge",
            text="opening pressure found on the cap tester, seal wetted",
            usual=(80e3, 160e3),
            possible=(0.0, 300e3),
            u=5e3,
        ),
        Field(
            "hold_loss",
            "quantity",
            kind="pressure_difference",
            text="pressure lost in 10 min, pumped up to the cap's figure, engine cold",
            usual=(0.0, 10e3),
            possible=(0.0, 300e3),
            u=2e3,
            caution="Cold engine only. Never open a hot cap.",
        ),
        Field(
            "hot_day",
            "quantity",
            kind="temperature",
            text="hottest day on which the vehicle is to be used; not asked: the house's",
            usual=(298.15, 318.15),
            possible=(263.15, 333.15),
        ),
        Field(
            "altitude_of_use",
            "quantity",
            kind="altitude",
            text="highest place at which it is to be used, not that of the workshop; not asked: the house's",
            usual=(0.0, 2500.0),
            possible=(-430.0, 6000.0),
        ),
    ),
    tests=("cooling-steady-load-run", "cooling-cap-and-hold-test"),
    caution="Hot coolant scalds: let the system cool down before any cap is opened.",
)
