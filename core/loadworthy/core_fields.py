"""The keys that the core itself knows: of every sheet, of repairs and the like, and four curves over speed.

They are declared like those of plugins, so that readers, prompts, schema and docs treat all alike. A ``text`` of kind
``time`` is a time of day.
"""

from __future__ import annotations

from typing import Final

from loadworthy.declarations import Field
from loadworthy.units import KINDS

#: Full-load torque drives: a drag torque is none.
_DRIVING: Final = (0.0, None)

#: Keys of ``[vehicle]``: torque over speed as it is today, the most independent source first, and the maker's.
VEHICLE: Final = (
    Field(
        "base_torque_measured",
        "curve",
        "torque over speed today, measured independently of the vehicle's own control unit",
        kind="torque",
        possible=_DRIVING,
    ),
    Field(
        "base_torque_logged",
        "curve",
        "torque over speed today, as its control unit logs it",
        kind="torque",
        possible=_DRIVING,
    ),
    Field(
        "base_torque_declared",
        "curve",
        "torque over speed today, as somebody declares it",
        kind="torque",
        possible=_DRIVING,
    ),
    Field("standard_torque", "curve", "torque over speed as made", kind="torque", possible=_DRIVING),
)

#: Keys of ``[plan]`` that say what the change is for, not how much is wanted.
PURPOSE: Final = frozenset(("goal", "use"))
#: Keys of ``[plan]``.
PLAN: Final = (
    Field("torque", "curve", "planned torque over speed", kind="torque", possible=_DRIVING),
    Field("goal", "choice", "what it is for", choices=("power", "torque", "economy", "balanced", "repair")),
    Field("use", "choice", "how it will be used", choices=("road", "track", "launch", "towing"), many=True),
)

_DATE: Final = Field("date", "date", "day on which it was taken", required=True)
_TIME: Final = Field("time", "text", "time of day", kind="time")
_ODOMETER: Final = Field(
    "odometer", "quantity", "distance covered by the vehicle", kind="distance", possible=(0.0, None)
)
_BY: Final = Field("by", "text", "who did it")
_NOTE: Final = Field("note", "text", "anything else worth knowing")
_UNFINISHED: Final = Field(
    "unfinished", "flag", "true while it is being written: what it lacks is no fault then, and is told"
)

#: Keys of every sheet besides those of its section.
SHEET: Final = (
    Field("id", "text", "name of the sheet, if others refer to it"),
    _DATE,
    _TIME,
    _ODOMETER,
    _BY,
    Field("instrument", "text", "id of the instrument, or a table of field to id"),
    Field("u", "record", "table of field to standard uncertainty"),
    Field("conditions", "text", "under what conditions"),
    Field(
        "file",
        "record",
        "photo or paper that belongs to it: its path as text, or a table; several are a list",
        many=True,
        fields=(
            Field("path", "text", "path from the folder of the case", required=True),
            Field("sha256", "text", "SHA-256 of its content, 64 hexadecimal digits"),
        ),
    ),
    _NOTE,
    Field("retest_of", "text", "id of the repair that this sheet proves"),
    _UNFINISHED,
)

REPAIR: Final = (
    Field("id", "text", "name of the repair, if a sheet refers to it"),
    Field("date", "date", "day on which it was done", required=True),
    _TIME,
    _ODOMETER,
    _BY,
    Field("what", "text", "what was done", required=True),
    Field("treats", "text", "causes or rules that it treats, as cause@subject", many=True, required=True),
    Field("proof", "text", "what shows that it was done"),
    _NOTE,
    _UNFINISHED,
)

EVENT: Final = (
    Field("kind", "text", "what happened, in the word that causes name", required=True),
    Field("date", "date", "day on which it happened", required=True),
    _TIME,
    _ODOMETER,
    _BY,
    _NOTE,
    _UNFINISHED,
)

WAIVER: Final = (
    Field("who", "text", "who accepts it", required=True),
    Field("role", "text", "in which role"),
    Field("what", "text", "id of the gap or finding", required=True),
    Field("why", "text", "for which reason", required=True),
    Field("from", "date", "first day", required=True),
    Field("until", "date", "last day", required=True),
    _UNFINISHED,
)

VOID: Final = (
    Field("sheet", "text", "id of the sheet that was entered wrongly", required=True),
    Field("why", "text", "for which reason", required=True),
    Field("who", "text", "who strikes it out", required=True),
    Field("date", "date", "day on which it is struck out", required=True),
    _UNFINISHED,
)

#: ``span``, ``resolution`` and ``calibration_u`` are quantities of what the instrument measures.
INSTRUMENT: Final = (
    Field("id", "text", "name by which sheets refer to it", required=True),
    Field("measures", "choice", "kind of quantity", choices=tuple(KINDS), required=True),
    Field("text", "text", "what it is"),
    Field("class", "number", "accuracy class: limit of error in % of span", possible=(1e-6, 100.0)),
    Field("span", "quantity", "width of its range"),
    Field("resolution", "quantity", "smallest step that it shows"),
    Field("calibration_u", "quantity", "standard uncertainty by its certificate, U/k"),
    Field("calibrated", "date", "day of the last calibration"),
    Field("due", "date", "day on which the next calibration is due"),
    _UNFINISHED,
)

#: Lists of tables that every case may have, by name, as ``[[repair]]``.
LISTS: Final = {
    "instrument": INSTRUMENT,
    "repair": REPAIR,
    "event": EVENT,
    "waiver": WAIVER,
    "void": VOID,
}

#: Every top-level key that is no section.
TOP: Final = ("name", "as_of", "vehicle", "plan", *LISTS)
