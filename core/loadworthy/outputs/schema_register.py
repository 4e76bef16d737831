"""JSON Schema of a register as JSON: every key is there, and no other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

from loadworthy.decide import OUTCOMES
from loadworthy.declarations import PLAN_CLASSES, Hazard
from loadworthy.findings import GRADES
from loadworthy.outputs.plain import FORMAT

if TYPE_CHECKING:
    from collections.abc import Mapping

    Schema = dict[str, Any]

_TEXT: Schema = {"type": "string"}
_NUMBER: Schema = {"type": "number"}
_FLAG: Schema = {"type": "boolean"}
_COUNT: Schema = {"type": "integer", "minimum": 0}
_P: Schema = {"type": "number", "minimum": 0, "maximum": 1}
_DAY: Schema = {"type": "string", "format": "date"}
_UNIT: Schema = {"type": "string", "description": "SI unit of the numbers beside it, 1 where there is none"}
_SPEED_UNIT: Schema = {"const": "rev/s"}
_TORQUE_UNIT: Schema = {"const": "N m"}


def _or_null(one: Schema) -> Schema:
    return {"anyOf": [one, {"type": "null"}]}


def _list(one: Schema) -> Schema:
    return {"type": "array", "items": one}


def _map(one: Schema) -> Schema:
    return {"type": "object", "additionalProperties": one}


def _object(**properties: Schema) -> Schema:
    """Return the schema of an object that has all these keys and no other. A key that is a keyword ends with "_"."""
    named = {name.rstrip("_"): one for name, one in properties.items()}
    return {"type": "object", "properties": named, "required": sorted(named), "additionalProperties": False}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


_NUMBERS = _list(_NUMBER)
_GAPPY = _list(_or_null(_NUMBER))
_SUBJECT = _or_null(_TEXT)
_ANY_VALUE: Schema = {"type": ["number", "string", "null"]}
_VALUE: Schema = {"type": ["number", "string"]}

_DEFINITIONS: Mapping[str, Schema] = {
    "fact": _object(outcome={"enum": list(OUTCOMES)}, code=_TEXT, text=_TEXT, id=_TEXT, change=_TEXT),
    "reading": _object(place=_TEXT, value=_VALUE, u=_or_null(_NUMBER), unit=_UNIT),
    "weight": _object(
        cause=_TEXT,
        subject=_SUBJECT,
        group=_TEXT,
        finding=_TEXT,
        raw_db=_NUMBER,
        fade=_P,
        db=_NUMBER,
        counts=_FLAG,
        note=_TEXT,
    ),
    "limit": _object(id=_TEXT, value=_ANY_VALUE, unit=_UNIT, origin=_TEXT, needed_u=_or_null(_NUMBER)),
    "finding": _object(
        id=_TEXT,
        plugin=_TEXT,
        rule=_TEXT,
        subject=_SUBJECT,
        sheet=_TEXT,
        state={"enum": ["governs", "carried", "history", "unknown"]},
        why=_TEXT,
        grade={"enum": [*GRADES, "unknown"]},
        accept=_FLAG,
        borderline=_FLAG,
        text=_TEXT,
        readings=_list(_ref("reading")),
        limit=_or_null(_ref("limit")),
        p_beyond=_or_null(_P),
        weights=_list(_ref("weight")),
        set_aside=_list({"type": "array", "prefixItems": [_TEXT, _SUBJECT, _TEXT], "minItems": 3, "maxItems": 3}),
    ),
    "risk": _object(
        id=_TEXT,
        cause=_TEXT,
        subject=_SUBJECT,
        text=_TEXT,
        level={"enum": ["high", "serious", "medium", "low"]},
        probability_level=_TEXT,
        severity={"enum": [1, 2, 3, 4]},
        person=_FLAG,
        probability=_P,
        share=_map(_P),
        active=_FLAG,
        failure_probability=_P,
        left_alone=_P,
        added_by_plan=_NUMBER,
        expected_loss=_NUMBER,
        hazard=_object(class_={"enum": list(get_args(Hazard))}, h0=_NUMBER, m=_NUMBER, r=_NUMBER, h_plan=_NUMBER),
        driver=_TEXT,
        capacity=_FLAG,
        origin=_TEXT,
        findings=_list(_ref("finding")),
        set_aside=_list(_TEXT),
        conflicting=_FLAG,
        remedy=_TEXT,
        retest=_list(_TEXT),
    ),
    "ceiling": _object(
        id=_TEXT,
        plugin=_TEXT,
        quantity=_TEXT,
        value=_ANY_VALUE,
        curve=_or_null(_object(speed=_NUMBERS, value=_NUMBERS, speed_unit=_SPEED_UNIT)),
        unit=_UNIT,
        kind={"enum": ["hard", "advisory"]},
        origin={"enum": ["fault", "gap"]},
        reason=_TEXT,
        until=_TEXT,
        finding=_or_null(_TEXT),
        torque=_object(
            speed=_NUMBERS, speed_unit=_SPEED_UNIT, value=_GAPPY, unit=_TORQUE_UNIT, unknown_at=_list(_COUNT)
        ),
        note=_TEXT,
    ),
    "gain": _object(
        values=_GAPPY,
        lowest=_or_null(_NUMBER),
        mean=_or_null(_NUMBER),
        at_zero=_NUMBERS,
        unit={"const": "1"},
        speed_unit=_SPEED_UNIT,
    ),
    "point": {"type": "array", "items": _NUMBER, "minItems": 2, "maxItems": 2},
    "lift_step": _object(
        until=_TEXT,
        text=_TEXT,
        lifts=_list(_TEXT),
        gained=_GAPPY,
        unit=_TORQUE_UNIT,
        speed=_NUMBERS,
        speed_unit=_SPEED_UNIT,
        worst=_or_null(_ref("point")),
        best=_or_null(_ref("point")),
        next_binding=_list(_TEXT),
        minutes=_or_null(_NUMBER),
        gain=_ref("gain"),
    ),
    "allowed": _object(
        speed=_NUMBERS,
        speed_unit=_SPEED_UNIT,
        torque=_GAPPY,
        plan=_NUMBERS,
        base=_or_null(_NUMBERS),
        unit=_TORQUE_UNIT,
        binding=_list(_TEXT),
        in_words=_list(_TEXT),
    ),
    "band": _object(unit=_UNIT, low=_list(_NUMBERS), nominal=_list(_NUMBERS), high=_list(_NUMBERS)),
    "demand": _object(
        supplier=_TEXT,
        speed=_NUMBERS,
        speed_unit=_SPEED_UNIT,
        torque=_list(_NUMBERS),
        plan=_NUMBERS,
        base=_or_null(_NUMBERS),
        standard=_or_null(_NUMBERS),
        torque_unit=_TORQUE_UNIT,
        base_source=_TEXT,
        basis=_TEXT,
        quantities=_map(_ref("band")),
    ),
    "gap": _object(
        id=_TEXT,
        section=_TEXT,
        required=_FLAG,
        text=_TEXT,
        test=_TEXT,
        subject=_SUBJECT,
        write=_TEXT,
        ceiling=_or_null(_TEXT),
    ),
    "gate": _object(id=_TEXT, state={"enum": ["go", "no_go", "unknown"]}, text=_TEXT, why=_TEXT),
    "row": _object(
        id=_TEXT,
        text=_TEXT,
        level={"enum": ["R", "A", "-"]},
        state=_TEXT,
        why=_TEXT,
        gate=_FLAG,
        sheets=_list(_TEXT),
        failed=_list(_TEXT),
    ),
    "failure": _object(plugin=_TEXT, hook=_TEXT, problem=_TEXT, detail=_TEXT),
    "limit_change": _object(
        id=_TEXT, default=_ANY_VALUE, value=_ANY_VALUE, kind=_TEXT, looser=_FLAG, reason=_TEXT, unit=_UNIT
    ),
    "waiver": _object(
        who=_TEXT,
        role=_TEXT,
        what=_TEXT,
        why=_TEXT,
        from_=_DAY,
        until=_DAY,
        state={"enum": ["in_force", "expired", "refused", "unused"]},
        state_why=_TEXT,
    ),
    "void": _object(sheet=_TEXT, why=_TEXT, who=_TEXT, date=_DAY),
    "plugin": _object(id=_TEXT, distribution=_TEXT, version=_TEXT, hooks=_list(_TEXT), source=_TEXT),
    "share": _object(cause=_TEXT, subject=_SUBJECT, weight=_NUMBER, likelihood=_NUMBER, share=_P),
    "symptom": _object(
        id=_TEXT,
        set_id=_TEXT,
        text=_TEXT,
        plugin=_TEXT,
        rule=_TEXT,
        sheet=_TEXT,
        subject=_SUBJECT,
        group=_TEXT,
        p_beyond=_P,
        strength=_P,
        shares=_list(_ref("share")),
        none_share=_P,
        unexplained=_FLAG,
        grade=_or_null({"enum": list(GRADES)}),
    ),
    "assumption": _object(what=_TEXT, value=_VALUE, unit=_UNIT, why=_TEXT, u=_or_null(_NUMBER), origin=_TEXT),
    "advice": _object(text=_TEXT, subject=_SUBJECT, test=_TEXT, sheet=_TEXT),
}


def register_schema() -> Schema:
    """Return the schema of `Register.to_dict`."""
    register = _object(
        format={"const": FORMAT},
        outcome={"enum": list(OUTCOMES)},
        hold_kind=_TEXT,
        reason=_TEXT,
        outcome_reasons=_list(_ref("fact")),
        deciding=_list(_ref("fact")),
        would_change=_list(_TEXT),
        # What stands in vehicle and plan depends on the plugins.
        case=_object(name=_TEXT, vehicle={"type": "object"}, plan={"type": "object"}),
        as_of=_DAY,
        plan_class={"enum": list(PLAN_CLASSES)},
        plan_class_reasons=_list(_TEXT),
        torque_ratio=_or_null(_NUMBER),
        demand=_or_null(_ref("demand")),
        risks=_list(_ref("risk")),
        not_looked_into=_list(_ref("risk")),
        unlisted=_COUNT,
        ceilings=_list(_ref("ceiling")),
        allowed=_ref("allowed"),
        gain=_ref("gain"),
        lift_steps=_list(_ref("lift_step")),
        lift_blocked_by=_list(_TEXT),
        gaps=_list(_ref("gap")),
        gates=_list(_ref("gate")),
        required_evidence=_list(_ref("row")),
        plugin_failures=_list(_ref("failure")),
        limits_changed=_list(_ref("limit_change")),
        waivers=_list(_ref("waiver")),
        struck_out=_list(_ref("void")),
        plugins=_list(_ref("plugin")),
        case_digest=_TEXT,
        house_digest=_TEXT,
        symptoms=_list(_ref("symptom")),
        findings=_list(_ref("finding")),
        assumptions=_list(_ref("assumption")),
        advice=_list(_ref("advice")),
        notes=_list(_TEXT),
    )
    return {"title": f"A register, {FORMAT}", **register, "$defs": dict(_DEFINITIONS)}
