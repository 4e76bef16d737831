"""Write the check's code table from its source, ``tests/plugins/fault_codes.toml``; run it after the source changed.

The source names causes in words; the table holds the ids of ``vocabulary.toml``, which lists those words as aliases.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[1]
TARGET = Path(__file__).parents[3] / "plugins" / "loadworthy_plugins" / "fault_memory" / "code_table.py"

HEAD = '''"""Trouble codes: families, codes, patterns, and what no code means. Written by a program; do not edit.

Meanings follow ISO 15031-6:2015 / SAE J2012 and its digital annex in words of our own, compared with up to three public
copies of that list: a current annex, b 2007, c 2002. Weights are likelihood ratios and judgement throughout.
"""

from __future__ import annotations

from typing import Any, Final

'''


def source() -> dict[str, Any]:
    """Return the source of the table."""
    return tomllib.loads((FOLDER / "fault_codes.toml").read_text(encoding="utf-8"))


def words() -> dict[str, Any]:
    """Return the list of ids of all checks."""
    return tomllib.loads((FOLDER / "vocabulary.toml").read_text(encoding="utf-8"))


def vocabulary() -> dict[str, str]:
    """Return cause id by its name in the source."""
    prefix = "codes: "
    return {
        alias.removeprefix(prefix): cause["id"]
        for cause in words()["cause"]
        for alias in cause["aliases"]
        if alias.startswith(prefix)
    }


def broader() -> dict[str, tuple[str, ...]]:
    """Return the causes that each broader name covers, down to those that cover nothing themselves."""
    words = tomllib.loads((FOLDER / "vocabulary.toml").read_text(encoding="utf-8"))
    covers = {one["id"]: one["covers"] for one in words["cause"] if "covers" in one}

    def parts(name: str) -> list[str]:
        return [part for each in covers[name] for part in parts(each)] if name in covers else [name]

    return {name: tuple(dict.fromkeys(parts(name))) for name in covers}


def text() -> str:
    """Return the module's text."""
    data, ids = source(), vocabulary()
    families = {
        one["id"]: (
            *(one[key] for key in ("meaning", "system", "kind", "fuel", "aspiration", "severity", "ceiling", "group")),
            one["why_at_higher_load"],
            tuple(one["tests"]),
            tuple((ids[each["cause"]], each["weight"], each.get("when", "")) for each in one["causes"]),
            one.get("note", ""),
        )
        for one in data["family"]
    }
    codes = {
        each["code"]: (one["id"], each["where"], each["lists"], each["verified"], each.get("remark", ""))
        for one in data["family"]
        for each in one["codes"]
    }
    patterns = {
        one["id"]: (
            tuple(one.get("any_of", ())),
            tuple(one.get("all_of", ())),
            one.get("condition", ""),
            one["reason"],
            tuple((ids[each["cause"]], each["factor"], each.get("when", "")) for each in one["multiply"]),
        )
        for one in data["pattern"]
    }
    located = {cause["id"]: cause["located"] for cause in words()["cause"]}
    causes = {
        ids[one["name"]]: (one["kind"], one["no_code_weight"], located[ids[one["name"]]]) for one in data["cause"]
    }
    lines = [HEAD]
    for name, what, table in (
        (
            "FAMILIES",
            "meaning, system, kind, fuel, aspiration, severity, ceiling, group, why, tests, causes with weights, note",
            families,
        ),
        ("CODES", "family, where, lists that carry it, whether two of them agree, remark", codes),
        ("PATTERNS", "any of, all of, condition, reason, (cause, factor, when)", patterns),
        ("CAUSES", "kind of cause, weight of no code, kind of place", causes),
    ):
        lines.append(f"#: Id -> {what}.\n{name}: Final[dict[str, Any]] = {{\n")
        lines += [f"    {key!r}: {value!r},\n" for key, value in table.items()]
        lines.append("}\n")
    covers = {cause: found for cause, found in broader().items() if cause in causes}
    lines.append("#: Broader name -> the causes that it covers: each takes its factor.\n")
    lines.append("PARTS: Final[dict[str, tuple[str, ...]]] = {\n")
    lines += [f"    {cause!r}: {found!r},\n" for cause, found in covers.items()]
    lines.append("}\n")
    groups = data["group_global"]
    lines.append(f"#: Groups that other checks read too, by the table's name.\nGLOBAL_GROUPS: Final = {groups!r}\n")
    return "".join(lines)


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
