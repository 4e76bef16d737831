"""JSON Schema (draft 2020-12) of what goes in and what comes out, for editors, forms and other programs.

The case is described as its TOML is in JSON: dates and times of day are texts. What a schema cannot say (that ids
exist, that a repair is older than its retest, which unit fits, whether a quantity is possible) only the reader says.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.outputs.schema_case import case_schema
from loadworthy.outputs.schema_register import register_schema

if TYPE_CHECKING:
    from loadworthy.declarations import Catalogue

DIALECT = "https://json-schema.org/draft/2020-12/schema"
WHAT = ("case", "register")


def schema(what: str, catalogue: Catalogue) -> dict[str, Any]:
    """Return the schema of a ``case`` of these plugins, or of a ``register``."""
    body = case_schema(catalogue) if what == "case" else register_schema()
    return {"$schema": DIALECT, **body}


def schema_json(what: str | None, catalogue: Catalogue) -> str:
    """Return one schema as JSON, or an object with all of them."""
    from json import dumps

    whole: Any = schema(what, catalogue) if what else {name: schema(name, catalogue) for name in WHAT}
    return dumps(whole, indent=1, ensure_ascii=True, allow_nan=False) + "\n"
