"""The sheet of one reading of the fault memory. Ranges are of the standard's parameters or judgement."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Field, Section

YES_NO: Final = ("yes", "no", "unknown")
ANSWERS: Final = ("codes", "empty", "refused", "silent", "damaged", "not_asked")
REGIONS: Final = ("idle", "cruise", "load", "unknown")
#: Kinds of control unit.
KINDS: Final = ("engine", "gearbox", "brakes", "body", "other")

UNIT: Final = Field(
    "unit", "text", 'which control unit: its identifier or "engine", "gearbox" ...; none: the engine\'s'
)
_CODES: Final = (
    Field("code", "text", "the code as P0171, with its failure type as P0087-11 where it has one", required=True),
    UNIT,
    Field("failure_type", "text", "failure type byte, two hexadecimal digits"),
    Field("status", "text", "status byte, two hexadecimal digits"),
)
_COUNTED: Final = "holds at its greatest value; erasing the memory sets it to zero"

FAULT_MEMORY: Final = Section(
    "fault_memory",
    "one reading of the fault memory of all control units, before anything was unplugged or erased",
    (
        Field(
            "read_before_clear",
            "choice",
            "the memory was read before anybody erased it",
            choices=YES_NO,
            required=True,
            help="no: the sheet describes an erased memory",
        ),
        Field("key_state", "choice", "state of the vehicle while it was read", choices=("key_on_engine_off", "idling")),
        Field(
            "supply_voltage",
            "quantity",
            "voltage while it was read",
            kind="voltage",
            usual=(11.8, 14.8),
            possible=(6.0, 16.0),
            u=0.05,
            caution="below 12.0 V with the key on: support the supply and read again",
        ),
        Field("support_supply", "flag", "the supply was supported by a charger"),
        Field(
            "raw_replies",
            "text",
            "the raw hexadecimal lines as recorded, with headers if they can be had",
            help="better than typed codes: keeps unit, count and order; more than one line: pass it over here, "
            "and write it in an editor between three quotation marks",
        ),
        Field("protocol", "choice", "how the raw lines were sent", choices=("can", "older", "unknown")),
        Field("stored", "rows", "stored codes (service 03, or by status)", fields=_CODES),
        Field("pending", "rows", "pending codes (service 07)", fields=_CODES),
        Field("permanent", "rows", "permanent codes (service 0A)", fields=_CODES),
        Field(
            "answers",
            "rows",
            "what each unit answered, where its codes were typed: only an empty list says that there are none",
            fields=(
                UNIT,
                Field("stored", "choice", "to service 03", choices=ANSWERS),
                Field("pending", "choice", "to service 07", choices=ANSWERS),
                Field("permanent", "choice", "to service 0A", choices=ANSWERS),
            ),
        ),
        Field("status_availability_mask", "text", "which status bits the unit keeps, two hexadecimal digits; none: FF"),
        Field(
            "monitor_status",
            "rows",
            "monitor status of a unit, four bytes each",
            fields=(
                UNIT,
                Field("since_clear", "text", "parameter 01, as 00 07 65 05"),
                Field("this_cycle", "text", "parameter 41"),
            ),
        ),
        Field("warm_ups_since_clear", "count", f"warm-ups since the memory was erased; {_COUNTED}", possible=(0, 255)),
        Field(
            "distance_since_clear",
            "quantity",
            f"distance since the memory was erased; {_COUNTED}",
            kind="distance",
            possible=(0.0, 65_535e3),
            u=500.0,
        ),
        Field(
            "time_since_clear",
            "quantity",
            f"engine running time since the memory was erased; {_COUNTED}",
            kind="time",
            possible=(0.0, 65_535 * 60.0),
            u=30.0,
        ),
        Field(
            "distance_lamp_on",
            "quantity",
            "distance with the lamp on",
            kind="distance",
            possible=(0.0, 65_535e3),
            u=500.0,
        ),
        Field(
            "time_lamp_on",
            "quantity",
            "running time with the lamp on",
            kind="time",
            possible=(0.0, 65_535 * 60.0),
            u=30.0,
        ),
        Field(
            "freeze_frames",
            "rows",
            "freeze frames: what the unit stored when a code was set",
            fields=(
                UNIT,
                Field("frame", "count", "number of the frame, 0 the first", possible=(0, 255)),
                Field("code", "text", "code that set it (parameter 02 of the frame)"),
                Field("bytes", "text", "parameters with their bytes, as 0C 51 40, 43 01 7A", required=True),
            ),
        ),
        Field(
            "test_results",
            "rows",
            "on-board test results (service 06) as they were sent",
            fields=(
                UNIT,
                Field(
                    "monitor", "text", "monitor id, two hexadecimal digits; older layout: component id", required=True
                ),
                Field("test", "text", "test id, two hexadecimal digits", required=True),
                Field("scaling", "text", "scaling id, two hexadecimal digits; older layout: none"),
                Field("value", "text", "value, four hexadecimal digits", required=True),
                Field("min", "text", "least value, four hexadecimal digits"),
                Field("max", "text", "greatest value, four hexadecimal digits"),
            ),
        ),
        Field(
            "trims",
            "rows",
            "fuel trims, warm and in closed loop",
            fields=(
                Field("region", "choice", "where the engine ran", choices=REGIONS, required=True),
                Field("bank", "count", "bank", possible=(1, 4)),
                Field(
                    "short",
                    "quantity",
                    "short-term trim, fuel added is positive",
                    kind="ratio",
                    possible=(-1.0, 1.0),
                    u=0.005,
                ),
                Field(
                    "long",
                    "quantity",
                    "long-term trim, fuel added is positive",
                    kind="ratio",
                    possible=(-1.0, 1.0),
                    u=0.005,
                ),
                Field(
                    "coolant",
                    "quantity",
                    "coolant temperature",
                    kind="temperature",
                    usual=(343.15, 383.15),
                    possible=(233.15, 423.15),
                    u=1.0,
                ),
                Field("closed_loop", "flag", "the mixture was controlled in closed loop"),
            ),
        ),
        Field(
            "lamp", "choice", "the malfunction lamp as a person saw it", choices=("off", "on", "flashing", "unknown")
        ),
        Field(
            "lamp_at_key_on",
            "choice",
            "the lamp when the key was turned on: it must light",
            choices=("lit", "dark", "unknown"),
        ),
        Field(
            "units",
            "rows",
            "which kind of unit an identifier is",
            fields=(
                Field("identifier", "text", "as the record has it: 7E9, 18 ...", required=True),
                Field("kind", "choice", "kind of unit", choices=KINDS, required=True),
            ),
        ),
        Field("units_found", "text", "control units that answered", many=True),
        Field(
            "full_load_since_clear", "choice", "the engine ran at full load since the memory was erased", choices=YES_NO
        ),
        Field("battery_off_on", "date", "last day on which the battery was off"),
        Field("cleared_on", "date", "last day on which the memory was erased, as far as anybody knows"),
        Field("cleared_by", "text", "who erased it, and why"),
        Field(
            "provocation",
            "choice",
            "with the intake air sensor unplugged, engine off, then started: is a code set?",
            choices=("code_set", "no_code", "not_done"),
            caution="engine off to unplug; after the record is stored; write down the code that it leaves",
        ),
        Field("loads_at_misfire", "choice", "where misfires were counted", choices=("load_only", "idle_only", "both")),
    ),
    tests=("full-memory-reading", "lamp-and-idle-reading", "drive-until-monitors-complete", "reporting-provocation"),
    half_life_days=30.0,
    half_life_km=1000.0,
    caution="ventilation, belts and fans, parking brake; a second person reads while the vehicle is driven",
)
