"""A check of nothing in particular whose section has every type of field, for writing cases. Also a plugin file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Case, Cause, Field, Fields, Section, WorkshopTest, hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from loadworthy.sdk import Declaration

POINT = (
    Field("load", "quantity", "load on it", kind="force", required=True),
    Field("word", "text", "what was seen"),
    Field("heard", "flag", "it was heard"),
)
BENCH = Section(
    "bench",
    "a bench with everything",
    (
        Field(
            "grip",
            "quantity",
            "how it grips",
            kind="pressure_gauge",
            possible=(0.0, 5e6),
            usual_by=("build", {"light": (2e5, 6e5), "heavy": (8e5, 16e5)}),
            caution="mind the fingers",
            help="by the gauge at the handle",
        ),
        Field("each", "quantity", "each wheel", kind="pressure_gauge", per="wheel", u_relative=0.02),
        Field("heat", "quantity", "heat", kind="temperature", u=2.0, usual=(280.0, 330.0)),
        Field("share", "quantity", "share", kind="ratio"),
        Field("lengths", "quantity", "lengths", kind="length", many=True),
        Field("factor", "number", "factor", usual=(0.0, 2.0)),
        Field("strokes", "count", "strokes", possible=(1, 99)),
        Field("order", "count", "order", many=True),
        Field("layout", "count", "layout", nested=True),
        Field("state", "choice", "state", choices=("open", "shut_tight")),
        Field("marks", "choice", "marks", choices=("a", "b"), many=True, per="wheel"),
        Field("clean", "flag", "clean"),
        Field("since", "date", "since"),
        Field("at", "text", "at what time", kind="time"),
        Field("pull", "curve", "pull", kind="torque"),
        Field("trace", "series", "trace", kind="current"),
        Field("points", "rows", "points", fields=POINT),
        Field("spot", "record", "one spot", fields=POINT),
        Field("must", "text", "what must be said", required=True),
    ),
    tests=("benching", "listening"),
    caution="keep clear of the bench",
)


@hookimpl
def declare() -> Iterator[Declaration]:
    yield BENCH
    yield Fields("vehicle", (Field("build", "choice", "how it is built", choices=("light", "heavy")),))
    yield Fields("vehicle", (Field("wheels", "count", "how many wheels", possible=(1, 99)),))
    yield Fields("vehicle", (Field("spots", "rows", "known spots", fields=POINT),))
    yield Cause("loose", "a wheel is loose", 0.1, 2, "rare", located="wheel", retest=("benching",))
    yield WorkshopTest("benching", "bench it", 20, "any", "wear gloves")
    yield WorkshopTest("listening", "listen to it", 5, "any", "")


@hookimpl
def subjects(case: Case) -> Mapping[str, Sequence[str]]:
    wheels = case.vehicle.get("wheels")
    return {"wheel": tuple(f"wheel {n + 1}" for n in range(wheels))} if wheels else {}
