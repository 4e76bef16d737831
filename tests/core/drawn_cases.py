"""Generated case files of a small section that has every type of field."""

from __future__ import annotations

import datetime
from typing import Any

from hypothesis import strategies as st

from loadworthy import Case
from loadworthy.casefile import from_dict
from loadworthy.declarations import Catalogue, Field, Section

TODAY = datetime.date(2026, 11, 25)
BENCH = Section(
    "bench",
    "a bench",
    (
        Field("grip", "quantity", kind="pressure_gauge", possible=(0.0, 5e6), usual=(8e5, 16e5)),
        Field("each", "quantity", kind="pressure_gauge", per="wheel", u_relative=0.02),
        Field("heat", "quantity", kind="temperature", u=2.0),
        Field("share", "quantity", kind="ratio"),
        Field("lengths", "quantity", kind="length", many=True),
        Field("factor", "number"),
        Field("strokes", "count", possible=(1, 99)),
        Field("layout", "count", nested=True),
        Field("state", "choice", choices=("open", "shut")),
        Field("marks", "choice", choices=("a", "b"), many=True),
        Field("clean", "flag"),
        Field("since", "date"),
        Field("pull", "curve", kind="torque"),
        Field("trace", "series", kind="current"),
        Field("points", "rows", fields=(Field("load", "quantity", kind="force", required=True), Field("word", "text"))),
        Field("device", "record", fields=(Field("width", "quantity", kind="length"), Field("name", "text"))),
    ),
)
VEHICLE = Field("tank", "quantity", kind="volume", u=1e-4)
CATALOGUE = Catalogue(sections={"bench": BENCH}, vehicle={"tank": VEHICLE})
GAUGE = {"id": "g", "measures": "pressure_gauge", "span": "25 bar", "class": 1.6, "resolution": "0.1 bar"}


def read(tables: Any) -> Case:
    return from_dict(tables, catalogue=CATALOGUE, today=TODAY)


def decimals(low: int, high: int) -> st.SearchStrategy[str]:
    return st.integers(low * 100, high * 100).map(lambda n: f"{n / 100:g}")


DATES = st.dates(datetime.date(2020, 1, 1), TODAY)
PRESSURE = st.builds(
    lambda number, limit: f"{number} bar{limit}",
    decimals(0, 50),
    st.sampled_from(["", " +- 0.2", " +- 2 %", " ± 5 kPa"]),
).filter(lambda text: not text.startswith("0 "))  # a percentage of nothing is no uncertainty
FORCE = decimals(-10, 90).map("{} kN".format)
LENGTH = decimals(1, 90).flatmap(lambda n: st.sampled_from([f"{n} mm", f"{n} in", f"{n} thou"]))
WORD = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=12)
FIELDS = {
    "grip": st.one_of(PRESSURE, st.lists(PRESSURE, min_size=1, max_size=4)),
    "each": st.dictionaries(st.integers(1, 12).map(str), PRESSURE, min_size=1, max_size=4),
    "heat": decimals(-40, 120).flatmap(lambda n: st.sampled_from([f"{n} degC", f"{n} degF"])),
    "share": st.one_of(decimals(0, 2), st.floats(0.0625, 2.0), decimals(0, 99).map("{} %".format)),
    "lengths": st.lists(LENGTH, max_size=3),
    "factor": st.floats(-1e9, 1e9),
    "strokes": st.integers(1, 99),
    "layout": st.lists(st.lists(st.integers(1, 12), max_size=3), max_size=2),
    "state": st.sampled_from(["open", "shut"]),
    "marks": st.lists(st.sampled_from(["a", "b"]), max_size=3),
    "clean": st.booleans(),
    "since": DATES,
    "pull": st.dictionaries(
        st.integers(1, 70).map(lambda n: f"{n}00 rpm"), decimals(0, 900).map("{} lb ft".format), min_size=1
    ),
    "trace": st.builds(
        lambda values, unit: {"every": "0.5 ms", "unit": unit, "values": values},
        st.lists(st.one_of(st.integers(-900, 900), st.floats(-900, 900)), max_size=6),
        st.sampled_from(["A", "mA"]),
    ),
    "points": st.lists(st.fixed_dictionaries({"load": FORCE}, optional={"word": WORD}), max_size=3),
    "device": st.fixed_dictionaries({}, optional={"width": LENGTH, "name": WORD}),
}
DIGEST = "0123456789abcdef" * 4
FILE = st.one_of(
    st.sampled_from(["a.jpg", "photos/b c.png"]),
    st.fixed_dictionaries({"path": st.sampled_from(["a.jpg", "ü.pdf"])}, optional={"sha256": st.just(DIGEST)}),
)
UNSTATED = st.sampled_from(["0.1 bar", "3 kPa", "1.3 psi"])


@st.composite
def sheets(draw: st.DrawFn) -> dict[str, Any]:
    sheet: dict[str, Any] = draw(st.fixed_dictionaries({"date": DATES}, optional=FIELDS))
    head = {"time": st.times(), "note": WORD, "by": WORD, "odometer": st.integers(0, 10**6).map("{} km".format)}
    head["file"] = st.one_of(FILE, st.lists(FILE, max_size=3))
    sheet |= draw(st.fixed_dictionaries({}, optional=head))
    if draw(st.booleans()):
        sheet["instrument"] = draw(st.sampled_from(["g", {"grip": "g"}])) if "grip" in sheet else "g"
    stated: dict[str, Any] = {}
    if "each" in sheet and draw(st.booleans()):
        sheet["each"] = {key: text.partition(" +-")[0].partition(" ±")[0] for key, text in sheet["each"].items()}
        stated["each"] = draw(
            st.one_of(UNSTATED, st.fixed_dictionaries({}, optional=dict.fromkeys(sheet["each"], UNSTATED)))
        )
    if "lengths" in sheet and draw(st.booleans()):
        stated["lengths"] = "0.2 mm"
    if sheet.get("points") and draw(st.booleans()):
        stated["points"] = {"load": "7 N"}
    if sheet.get("device", {}).get("width") and draw(st.booleans()):
        stated["device"] = {"width": "0.01 mm"}
    if stated:
        sheet["u"] = stated
    return sheet


@st.composite
def under_way(draw: st.DrawFn, row: dict[str, Any]) -> dict[str, Any]:
    """The row, or what it may be while it is being written: it keeps its id, and lacks anything else."""
    if not draw(st.booleans()):
        return row
    # What is stated on a reading goes with it.
    lost = draw(st.sets(st.sampled_from(sorted(row.keys() - {"id", "instrument", "u"}) or ["note"])))
    left = {key: value for key, value in row.items() if key not in lost}
    if "points" in left and "u" not in left:
        left["points"] = [{key: value for key, value in one.items() if key != "load"} for one in left["points"]]
    return {**left, "unfinished": True}


@st.composite
def cases(draw: st.DrawFn) -> dict[str, Any]:
    bench = draw(st.lists(sheets(), max_size=4))
    for at, sheet in enumerate(bench):
        if draw(st.booleans()) or sheet in bench[:at]:
            sheet["id"] = f"s{at}"
    bench = [s for at, s in enumerate(bench) if "id" in s or s not in bench[:at]]
    tables: dict[str, Any] = {"bench": bench, "instrument": [GAUGE]}
    if draw(st.booleans()):
        tables["as_of"] = draw(DATES)
        tables["vehicle"] = {"tank": "61 L", "base_torque_logged": {"2000 rpm": "201 lb ft", "1000 rpm": "190 N m"}}
    treats = st.lists(st.sampled_from(["leak@wheel 1", "leak", "bench.grip"]), min_size=1, max_size=3)
    repair = st.fixed_dictionaries({"date": DATES, "what": WORD, "treats": treats})
    tables["repair"] = [{"id": f"r{at}"} | found for at, found in enumerate(draw(st.lists(repair, max_size=2)))]
    tables["event"] = draw(
        st.lists(st.fixed_dictionaries({"kind": WORD, "date": DATES}, optional={"time": st.times()}), max_size=3)
    )
    if bench and "id" in bench[0]:
        tables["void"] = [{"sheet": bench[0]["id"], "why": "w", "who": "v", "date": TODAY}]
    tables["waiver"] = (
        [{"who": "a", "what": "b", "why": "c", "from": bench[0]["date"], "until": TODAY}] if bench else []
    )
    for name in ("bench", "repair", "event", "waiver", "void", "instrument"):
        # Two sheets without an id must not become the same.
        rows = [draw(under_way(row)) if name != "bench" or "id" in row else row for row in tables.get(name, [])]
        tables[name] = rows
    return tables
