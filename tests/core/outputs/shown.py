"""One case that shows everything that a register can hold, judged by the plugin `posts`."""

from __future__ import annotations

import functools
import tomllib
from typing import TYPE_CHECKING

import careless
import posts

from loadworthy import Case, House, assess
from loadworthy.host import Host

if TYPE_CHECKING:
    from loadworthy import Register

CASE = """
name = "Test rig, everything at once"
as_of = 2026-05-10

[vehicle]
base_torque_measured = {"1000 rpm" = "200 N m", "3000 rpm" = "300 N m"}

[plan]
torque = {"1000 rpm" = "220 N m", "2000 rpm" = "300 N m", "3000 rpm" = "390 N m"}
goal = "power"

[[bench]]
id = "wrong"
date = 2026-04-30
level = {1 = "1.1 bar", 2 = "1.1 bar"}

[[bench]]
id = "bench-1"
date = 2026-05-02
by = "A. B."
odometer = "84210 km"
level = {1 = "1.72 bar", 2 = "1.93 bar"}
warmth = "42.5 degC"

[[void]]
sheet = "wrong"
why = "read off the wrong gauge"
who = "A. B."
date = 2026-05-01

[[waiver]]
who = "C. D."
role = "master"
what = "look"
why = "straps are new"
from = 2026-05-01
until = 2026-06-01
"""

HOUSE = """
letterhead = "Our shop"

[limits]
"posts.least" = {value = "1.8 bar", reason = "our posts are short"}

[[may_waive]]
role = "master"
what = ["look"]
"""


@functools.cache
def host() -> Host:
    return Host({"posts": posts, "careless": careless}, entry_points=False)


def register(text: str = CASE, house: str = HOUSE) -> Register:
    settings = House.from_dict(tomllib.loads(house), catalogue=host().catalogue) if house else None
    case = Case.from_dict(tomllib.loads(text), catalogue=host().catalogue)
    return assess(case, host=host(), house=settings)
