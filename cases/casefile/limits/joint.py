"""Limits of tongue, block, shims and bolts."""

import math
from collections.abc import Iterator

from cases.casefile.defaults import SHIM_NAMES, extension_length_mm, heel_face_length_mm, in_pocket
from cases.casefile.errors import Problem
from cases.casefile.key_values import WRONG, Values, total
from cases.casefile.limits.alternatives import one_group
from cases.casefile.limits.bounds import Check, at_least, at_most

THINNEST_MM = 0.2
"""Least thickness of a shim's thin edge [mm]."""
SHIM_FACES = {"upper": "tongue", "lower": "heel", "pocket": "tongue"}
SHIM_SEATS = {"upper": "tongue.width_mm", "lower": "heel.width_top_mm", "pocket": "tongue.width_mm"}


def _extension(values: Values) -> float:
    return round(extension_length_mm(values), 6)


def _widest_shim(values: Values) -> float:
    return max(values.number("shims.upper.bearing_width_mm"), values.number("shims.lower.bearing_width_mm"))


def _face_length_mm(values: Values, face: str) -> float:
    return heel_face_length_mm(values) if face == "heel" else values.number("tongue.length_mm")


def _shims_as_a_whole(values: Values) -> Iterator[Problem]:
    if WRONG in values.entries("shims"):
        return
    labels, kind = values.items("shims"), values.text("joint.kind")
    names = SHIM_NAMES.get(kind, labels)
    if sorted(labels) != sorted(names):
        wrong = f"these are not the shims of a {kind} joint"
        allowed = " and ".join(f"one {name}" for name in names)
        yield Problem("shims", ", ".join(labels), wrong, allowed, "name them so")


def _shim_pad(values: Values) -> Iterator[Problem]:
    face = SHIM_FACES.get(values.label)
    if face is None:
        return
    path = "shims.*.to_mm"
    yield from at_least(path, total("shims.*.from_mm", plus=5), "a pad is at least 5 mm long")(values)
    end = round(_face_length_mm(values, face), 6)
    yield from at_most(path, lambda _: end, f"the {face} ends {end:.4g} mm from the joint's corner")(values)


def _shim_width(values: Values) -> Iterator[Problem]:
    seat = SHIM_SEATS.get(values.label)
    if seat is not None:
        why = f"the seat is {{{seat}}} mm wide ({seat})"
        yield from at_most("shims.*.bearing_width_mm", total(seat), why)(values)


def _shim_thin_edge(values: Values) -> Iterator[Problem]:
    if values.given("stock.list_deg"):
        angles = [angle for angle in values.entries("stock.list_deg") if isinstance(angle, int | float)]
    else:
        angles = [values.number("stock.from_deg"), values.number("stock.to_deg")]
    steepest = max(map(abs, angles), default=0.0)
    half = 0.5 * (values.number("shims.*.to_mm") - values.number("shims.*.from_mm"))
    least = round(THINNEST_MM + half * math.tan(math.radians(steepest)), 3)
    why = f"at {steepest:g} degrees, the steepest in stock, its thin edge is under {THINNEST_MM:g} mm"
    yield from at_least("shims.*.thickness_mm", lambda _: least, why)(values)


def _bolts_as_a_whole(values: Values) -> Iterator[Problem]:
    if WRONG in values.entries("bolts"):
        return
    faces = [values.text(f"bolts.{label}.face") for label in values.items("bolts")]
    if in_pocket(values):
        if not faces or "heel" in faces:
            wrong = "a flat pocket is bolted through its floor; it has no heel face"
            remedy = "name the face so, or leave out all bolts for the usual four screws"
            allowed = 'at least one bolt, each with face = "tongue"'
            yield Problem("bolts", ", ".join(faces), wrong, allowed, remedy)
    elif "heel" not in faces:
        remedy = "add one, or leave out all bolts for the usual three"
        allowed = 'at least one bolt with face = "heel"'
        yield Problem("bolts", "", "no bolt clamps the heel to the block", allowed, remedy)


def _bolt_place(values: Values) -> Iterator[Problem]:
    path, face = "bolts.*.position_mm", values.text("bolts.*.face")
    half, length = values.number("bolts.*.insert_diameter_mm") / 2, _face_length_mm(values, face)
    yield from at_least(path, lambda _: half, "the insert would stick out of the face")(values)
    end = round(length - half, 3)
    yield from at_most(path, lambda _: end, f"the {face} face is {length:.4g} mm long")(values)


def _bolt_insert(values: Values) -> Iterator[Problem]:
    room = "heel.cap_length_mm" if values.text("bolts.*.face") == "heel" else "tongue.depth_mm"
    why = f"the wood around it is {{{room}}} mm deep ({room})"
    yield from at_most("bolts.*.insert_length_mm", total(room), why)(values)


def _bolt_tension(values: Values) -> Iterator[Problem]:
    if not values.given("bolts.*.torque_n_m") and not values.given("bolts.*.tension_n"):
        wrong, allowed = "the bolt has neither torque nor tension", "either torque_n_m or tension_n"
        yield Problem(values.path("bolts.*"), "", wrong, allowed, "add one")


def _bolt_washer(values: Values) -> Iterator[Problem]:
    half = values.number("bolts.*.washer_diameter_mm") / 2
    stem, length = values.number("block.stem_mm"), values.number("block.length_mm")
    if values.text("bolts.*.face") == "heel":
        above = values.number("block.shelf_mm") if stem < length else 0.0
        below = values.number("block.height_mm") - values.number("tongue.depth_mm")
        part = "the back of the block's stem, under its shelf (block.shelf_mm)"
    else:
        above, below = 0.0 if stem >= length else stem, length
        part = "the underside of the block's shelf, beyond its stem (block.stem_mm)"
    why, path = f"its washer, {2 * half:g} mm wide, presses on {part}", "bolts.*.position_mm"
    yield from at_least(path, lambda _: round(above + half, 3), why)(values)
    yield from at_most(path, lambda _: round(below - half, 3), why)(values)


def _pocket_alone(values: Values) -> Iterator[Problem]:
    """Keys that only one kind of joint has."""
    if in_pocket(values):
        keys, wrong = ("heel.outline_csv", "heel.mesh"), "measured heels and meshes are for two-shim joints"
    else:
        keys, wrong = ("block.wall_mm", "joint.end_gap_mm"), "only a flat pocket has an end wall"
    for key in keys:
        if values.given(key):
            given = f"{values.number(key):g}" if key.endswith("_mm") else f'"{values.text(key)}"'
            yield Problem(key, given, wrong, "none with this joint.kind", "remove it")


FRICTION_BAND = "the band includes joint.friction"
TONGUE_IS_HEEL = "in a flat pocket the tongue is the heel itself"

CHECKS: tuple[Check, ...] = (
    _pocket_alone,
    at_least("tongue.depth_mm", total("heel.height_mm"), TONGUE_IS_HEEL, when=in_pocket),
    at_most("tongue.depth_mm", total("heel.height_mm"), TONGUE_IS_HEEL, when=in_pocket),
    at_most("block.wall_mm", total("heel.height_mm"), "the heel is {limit} mm deep", when=in_pocket),
    at_least(
        "block.length_mm",
        total("tongue.length_mm", plus=10),
        "the pocket's wall needs 10 mm beyond the tongue",
        when=in_pocket,
    ),
    at_least("block.width_mm", total("shims.pocket.bearing_width_mm"), "it carries the shim", when=in_pocket),
    at_most(
        "tongue.width_mm",
        total("neck.width_joint_mm"),
        "the tongue is not wider than the fretboard at the joint",
    ),
    at_most("tongue.length_mm", _extension, "the fretboard ends there"),
    at_least(
        "block.length_mm", total("tongue.length_mm"), "the tongue is {limit} mm long and lies on the block"
    ),
    at_least(
        "block.height_mm",
        total("tongue.depth_mm", "shims.lower.to_mm"),
        "the lower shim reaches {limit} mm down",
    ),
    at_most("block.stem_mm", total("block.length_mm"), "the stem is part of the block"),
    at_most(
        "block.shelf_mm",
        total("block.height_mm", "-tongue.depth_mm"),
        "the block is {limit} mm deep under the tongue's seat",
    ),
    at_least("block.width_mm", _widest_shim, "a shim is {limit} mm wide"),
    at_most("joint.friction_low", total("joint.friction"), FRICTION_BAND),
    at_least("joint.friction_high", total("joint.friction"), FRICTION_BAND),
    _shims_as_a_whole,
    _bolts_as_a_whole,
)
SHIM_CHECKS: tuple[Check, ...] = (_shim_pad, _shim_width, _shim_thin_edge)
HOLLOW_CHECKS: tuple[Check, ...] = (
    at_least(
        "hollows.*.from_mm",
        total("-heel.start_mm"),
        "hollows lie over the joint: from the heel start to the tongue's end",
    ),
    at_least("hollows.*.to_mm", total("hollows.*.from_mm", plus=1), "it ends after it begins"),
    at_most("hollows.*.to_mm", total("tongue.length_mm"), "the tongue ends there"),
    at_least("hollows.*.bottom_mm", total("hollows.*.top_mm", plus=1), "it ends under its top"),
    at_most("hollows.*.bottom_mm", total("heel.height_mm"), "the heel is {limit} mm deep"),
    at_most(
        "hollows.*.width_mm",
        total("tongue.width_mm", plus=-2),
        "the tongue must keep a millimetre on either side",
    ),
)
BOLT_CHECKS: tuple[Check, ...] = (
    _bolt_place,
    _bolt_washer,
    at_least("bolts.*.insert_diameter_mm", total("bolts.*.diameter_mm"), "the bolt turns inside the insert"),
    at_least(
        "bolts.*.washer_diameter_mm",
        total("bolts.*.diameter_mm", times=1.5),
        "a washer is wider than its bolt",
    ),
    _bolt_insert,
    one_group("bolts.*"),
    _bolt_tension,
)
