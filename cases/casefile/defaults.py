"""Defaults of a case file: fixed ones, then those that follow from other keys."""

import contextlib
from collections.abc import Callable, Mapping
from functools import cache
from types import MappingProxyType
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from cases.casefile.key_values import LISTS, Unchecked, Values, total, unshared

Rule = Callable[[Values], float | tuple[str, ...] | None]

FLAT_POCKET = "flat-pocket"
BOLT_SOURCES = {
    "two-shim": (
        "two M6 bolts through the heel face and one M5 into the tongue, common practice, no source; 1.2 N m "
        "presses washers of 25 mm on mahogany at half its proportional limit across the grain (derived)"
    ),
    FLAT_POCKET: "four wood screws under a plate, common practice; 700 N each, assumption, no source",
}
# A rule runs before its inputs are validated: one may be missing, of the wrong kind, or far too large.
NOT_COMPUTABLE = (Unchecked, OverflowError)
SHIM_SOURCE = "the shims of this kind of joint"
SHIM_NAMES = {"two-shim": ("upper", "lower"), FLAT_POCKET: ("pocket",)}


def fret_position_mm(scale_mm: float, fret: float) -> float:
    """Return the distance of a fret from the nut, x = L (1 - 2^(-n/12)) [mm].

    Examples
    --------
    >>> round(fret_position_mm(647.7, 12), 2)
    323.85
    """
    return scale_mm * (1.0 - 2.0 ** (-fret / 12.0))


def joint_position_mm(values: Values) -> float:
    """Return the distance of the body joint from the nut [mm]."""
    return fret_position_mm(values.number("instrument.scale_mm"), values.number("instrument.body_joint_fret"))


def heel_start_position_mm(values: Values) -> float:
    """Return the distance of the heel start from the nut [mm]."""
    return joint_position_mm(values) - values.number("heel.start_mm")


def extension_length_mm(values: Values) -> float:
    """Return the length of the fretboard from the joint to its end [mm]."""
    last = fret_position_mm(values.number("instrument.scale_mm"), values.number("instrument.last_fret"))
    return last + values.number("instrument.overhang_mm") - joint_position_mm(values)


def heel_face_length_mm(values: Values) -> float:
    """Return the length of the heel face, from the joint's corner under the tongue to the cap [mm]."""
    return values.number("heel.height_mm") - values.number("tongue.depth_mm")


def in_pocket(values: Values) -> bool:
    """Return whether the joint is a flat pocket."""
    return values.text("joint.kind") == FLAT_POCKET


def by_kind(two_shim: Rule, pocket: Rule) -> Rule:
    """Return the rule of the joint's kind."""
    return lambda values: (pocket if in_pocket(values) else two_shim)(values)


def _fixed(value: float | tuple[str, ...] | None) -> Rule:
    return lambda values: value


def _rod_depth(values: Values) -> float:
    return 6.0 if values.text("rod.kind") == "two-way" else 5.0


def _rod_middle(values: Values) -> float:
    dip = 0.0 if values.text("rod.kind") == "two-way" else 6.0
    return values.number("rod.depth_ends_mm") + dip


def _kink(values: Values) -> float | None:
    if in_pocket(values) or values.given("targets.tongue_gap_mm"):
        return None
    return 0.0


# In the order of dependence: a rule may read what a rule before it has filled in.
RULES: Mapping[str, Rule] = MappingProxyType(
    {
        "heel.width_top_mm": by_kind(total("neck.width_joint_mm", times=0.80), total("neck.width_joint_mm")),
        "heel.width_cap_mm": by_kind(_fixed(22.0), total("heel.width_top_mm")),
        "tongue.depth_mm": by_kind(_fixed(12.0), total("heel.height_mm")),
        "tongue.width_mm": by_kind(total("neck.width_joint_mm", times=0.75), total("neck.width_joint_mm")),
        "tongue.length_mm": extension_length_mm,
        "block.length_mm": by_kind(
            lambda values: max(75.0, values.number("tongue.length_mm") + 12.0),
            total("tongue.length_mm", plus=60.0),
        ),
        "block.height_mm": by_kind(total("heel.height_mm"), total("tongue.depth_mm", plus=29.0)),
        "block.stem_mm": by_kind(_fixed(40.0), total("block.length_mm")),
        "block.shelf_mm": by_kind(_fixed(15.0), total("block.height_mm", "-tongue.depth_mm")),
        "block.wall_mm": by_kind(_fixed(None), total("tongue.depth_mm", times=0.8)),
        "block.held": by_kind(_fixed(("top", "bottom")), _fixed(("back",))),
        "joint.end_gap_mm": by_kind(_fixed(None), _fixed(0.0)),
        "rod.end_mm": heel_start_position_mm,
        "rod.depth_ends_mm": _rod_depth,
        "rod.depth_middle_mm": _rod_middle,
        "rod.slot_depth_mm": lambda values: {"two-way": 11.0, "one-way": 5.4}.get(
            values.text("rod.kind"), 0.0
        ),
        "shims.upper.from_mm": _fixed(3.0),
        "shims.upper.to_mm": total("tongue.length_mm", plus=-3.0),
        "shims.upper.bearing_width_mm": total("tongue.width_mm"),
        "shims.lower.from_mm": _fixed(3.0),
        "shims.lower.to_mm": lambda values: heel_face_length_mm(values) - 3.0,
        "shims.lower.bearing_width_mm": total("heel.width_cap_mm"),
        "shims.pocket.from_mm": _fixed(0.0),
        "shims.pocket.to_mm": total("tongue.length_mm"),
        "shims.pocket.bearing_width_mm": total("tongue.width_mm"),
        "targets.kink_deg": _kink,
    }
)


MAY_BE_EMPTY = ("targets.kink_deg", "block.wall_mm", "joint.end_gap_mm")


def _usual_bolts(values: Values) -> list[dict[str, object]]:
    """Two bolts in the heel face and one into the tongue, or two rows of two screws in a flat pocket.

    Washers press on the back of the stem, under the shelf.
    """
    if in_pocket(values):
        return _usual_screws(values)
    shelf, face = values.number("block.shelf_mm"), heel_face_length_mm(values)
    heel = {"face": "heel", "torque_n_m": 1.2, "washer_diameter_mm": 25.0}
    tongue = {"face": "tongue", "diameter_mm": 5.0, "torque_n_m": 0.4}
    tongue |= {"insert_length_mm": 9.0, "insert_diameter_mm": 7.0}
    middle = total("block.stem_mm", "tongue.length_mm", times=0.5)
    return [
        {"name": "heel-top", "position_mm": round(shelf + 13.0, 3), **heel},
        {"name": "heel-low", "position_mm": round(max(0.73 * face, shelf + 28.0), 3), **heel},
        {"name": "tongue", "position_mm": round(middle(values), 3), **tongue},
    ]


def _usual_screws(values: Values) -> list[dict[str, object]]:
    length = values.number("tongue.length_mm")
    screw = {"face": "tongue", "diameter_mm": 4.5, "tension_n": 700.0, "washer_diameter_mm": 18.0}
    screw |= {"insert_length_mm": 15.0, "insert_diameter_mm": 4.5}
    return [
        {"name": f"{row}-{side}", "position_mm": round(share * length, 3), **screw}
        for row, share in (("front", 0.2), ("rear", 0.8))
        for side in ("bass", "treble")
    ]


@cache
def table_models(file_model: type[BaseModel]) -> Mapping[str, type[BaseModel]]:
    """Return the class of each table, and of the items of each list, of a file."""
    models: dict[str, type[BaseModel]] = {}
    for name, field in file_model.model_fields.items():
        for candidate in (field.annotation, *get_args(field.annotation)):
            if isinstance(candidate, type) and issubclass(candidate, BaseModel):
                models[name] = candidate
    return MappingProxyType(models)


@cache
def fixed_defaults(model: type[BaseModel]) -> Mapping[str, Any]:
    """Return the keys of a table that have a fixed default, with it."""
    fields = model.model_fields.items()
    return MappingProxyType({key: field.default for key, field in fields if not field.is_required()})


def with_defaults(raw: Mapping[str, object], case_model: type[BaseModel]) -> dict[str, Any]:
    """Return the content of a case file with its defaults, as new nested tables with tuples for lists.

    A default whose own inputs are missing or of the wrong type is left out; validation names those inputs.
    """
    content: dict[str, Any] = unshared(dict(raw))
    models = table_models(case_model)
    for name, model in models.items():
        if name not in LISTS:
            table = content.setdefault(name, {})
            if isinstance(table, dict):
                _fill_fixed(table, model)
    for path, rule in RULES.items():
        if not path.startswith("shims."):
            _fill_computed(content, path, rule)
    _fill_lists(content, models)
    return {key: with_tuples(value) for key, value in content.items()}


def _fill_lists(content: dict[str, Any], models: Mapping[str, type[BaseModel]]) -> None:
    values = Values(content)
    if "bolts" not in content:
        with contextlib.suppress(*NOT_COMPUTABLE):
            content["bolts"] = _usual_bolts(values)
    shims = content.setdefault("shims", [])
    if isinstance(shims, list):
        present = [shim.get("name") for shim in shims if isinstance(shim, dict)]
        joint = content.get("joint")
        names = SHIM_NAMES.get(str(joint.get("kind")) if isinstance(joint, dict) else "", ())
        shims.extend({"name": name} for name in names if name not in present and len(shims) < len(names))
    content.setdefault("bars", [])
    content.setdefault("hollows", [])
    content.setdefault("woods", [])
    for name in LISTS:
        entries = content[name] if isinstance(content.get(name), list) else []
        for entry in entries:
            if isinstance(entry, dict):
                _fill_fixed(entry, models[name])
    for bar in content["bars"] if isinstance(content["bars"], list) else []:
        if isinstance(bar, dict) and "end_mm" not in bar:
            with contextlib.suppress(*NOT_COMPUTABLE):
                bar["end_mm"] = heel_start_position_mm(values)
    for path, rule in RULES.items():
        if path.startswith("shims."):
            _fill_computed(content, path, rule)


def _fill_fixed(table: dict[str, Any], model: type[BaseModel]) -> None:
    for key, value in fixed_defaults(model).items():
        table.setdefault(key, value)


def _fill_computed(content: dict[str, Any], path: str, rule: Rule) -> None:
    names = path.split(".")
    table = content.get(names[0])
    if isinstance(table, list):
        table = next(
            (item for item in table if isinstance(item, dict) and item.get("name") == names[1]), None
        )
    if not isinstance(table, dict) or names[-1] in table:
        return
    try:
        value = rule(Values(content))
        table[names[-1]] = round(value, 6) if isinstance(value, float) else value
    except NOT_COMPUTABLE:
        # for the others "missing" is dropped in favour of the cause
        if path in MAY_BE_EMPTY:
            table[names[-1]] = None


def with_tuples(value: Any) -> Any:
    """Return nested tables with lists as tuples, as the schema takes them."""
    if isinstance(value, list):
        return tuple(with_tuples(item) for item in value)
    if isinstance(value, dict):
        return {key: with_tuples(item) for key, item in value.items()}
    return value


def field_source(field: FieldInfo) -> str:
    """Return the source of a key's default, with its rule if it has one."""
    extra = field.json_schema_extra
    if not isinstance(extra, dict):
        return ""
    rule, source = extra.get("rule"), str(extra.get("source", ""))
    return f"{rule} ({source})" if rule else source
