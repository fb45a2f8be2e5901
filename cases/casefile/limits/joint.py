"""Limits of tongue, block, shims and bolts."""

import math
from collections.abc import Iterator

from cases.casefile.defaults import FLAT_POCKET, SHIM_NAMES, extension_length_mm, heel_face_length_mm
from cases.casefile.errors import Problem
from cases.casefile.key_values import WRONG, Values
from cases.casefile.limits.bounds import at_least, at_most

THINNEST_MM = 0.2


def _tongue_width(values: Values) -> Iterator[Problem]:
    yield from at_most(
        values,
        "tongue.width_mm",
        values.number("neck.width_joint_mm"),
        because="the tongue is not wider than the fretboard at the joint",
    )


def _tongue_length(values: Values) -> Iterator[Problem]:
    yield from at_most(
        values, "tongue.length_mm", round(extension_length_mm(values), 6), because="the fretboard ends there"
    )


def _block_length(values: Values) -> Iterator[Problem]:
    tongue = values.number("tongue.length_mm")
    yield from at_least(
        values, "block.length_mm", tongue, because=f"the tongue is {tongue:.4g} mm long and lies on the block"
    )


def _block_height(values: Values) -> Iterator[Problem]:
    reach = values.number("tongue.depth_mm") + values.number("shims.lower.to_mm")
    yield from at_least(
        values, "block.height_mm", reach, because=f"the lower shim reaches {reach:.4g} mm down"
    )


def _block_stem(values: Values) -> Iterator[Problem]:
    yield from at_most(
        values, "block.stem_mm", values.number("block.length_mm"), because="the stem is part of the block"
    )


def _block_shelf(values: Values) -> Iterator[Problem]:
    room = values.number("block.height_mm") - values.number("tongue.depth_mm")
    yield from at_most(
        values, "block.shelf_mm", room, because=f"the block is {room:g} mm deep under the tongue's seat"
    )


def _block_width(values: Values) -> Iterator[Problem]:
    widest = max(values.number("shims.upper.bearing_width_mm"), values.number("shims.lower.bearing_width_mm"))
    yield from at_least(values, "block.width_mm", widest, because=f"a shim bears over {widest:g} mm")


def _friction(values: Values) -> Iterator[Problem]:
    middle = values.number("joint.friction")
    yield from at_most(values, "joint.friction_low", middle, because="the band lies round joint.friction")
    yield from at_least(values, "joint.friction_high", middle, because="the band lies round joint.friction")


def _face_length_mm(values: Values, face: str) -> float:
    return heel_face_length_mm(values) if face == "heel" else values.number("tongue.length_mm")


def _shims_as_a_whole(values: Values) -> Iterator[Problem]:
    if WRONG in values.entries("shims"):
        return
    labels, kind = values.items("shims"), values.text("joint.kind")
    names = SHIM_NAMES.get(kind, labels)
    if sorted(labels) != sorted(names):
        yield Problem(
            "shims",
            ", ".join(labels),
            f"these are not the shims of a {kind} joint",
            " and ".join(f"one {name}" for name in names),
            "name them so",
        )


def _shim_pad(values: Values, label: str) -> Iterator[Problem]:
    path = f"shims.{label}"
    face = {"upper": "tongue", "lower": "heel", "pocket": "tongue"}.get(label)
    if face is None:
        return
    yield from at_least(
        values, f"{path}.to_mm", values.number(f"{path}.from_mm") + 5, because="a pad is at least 5 mm long"
    )
    length = _face_length_mm(values, face)
    yield from at_most(
        values,
        f"{path}.to_mm",
        round(length, 6),
        because=f"the {face} ends {length:.4g} mm from the joint's corner",
    )


def _shim_width(values: Values, label: str) -> Iterator[Problem]:
    seat = {
        "upper": "tongue.width_mm",
        "lower": "heel.width_top_mm",
        "pocket": "tongue.width_mm",
    }.get(label)
    if seat is not None:
        yield from at_most(
            values,
            f"shims.{label}.bearing_width_mm",
            values.number(seat),
            because=f"{seat} says how wide the seat is",
        )


def _shim_thin_edge(values: Values, label: str) -> Iterator[Problem]:
    path = f"shims.{label}"
    if values.given("stock.list_deg"):
        angles = [angle for angle in values.entries("stock.list_deg") if isinstance(angle, int | float)]
    else:
        angles = [values.number("stock.from_deg"), values.number("stock.to_deg")]
    steepest = max(map(abs, angles), default=0.0)
    half = 0.5 * (values.number(f"{path}.to_mm") - values.number(f"{path}.from_mm"))
    yield from at_least(
        values,
        f"{path}.thickness_mm",
        round(THINNEST_MM + half * math.tan(math.radians(steepest)), 3),
        because=f"at {steepest:g} degrees, the steepest in stock, its thin edge is under {THINNEST_MM:g} mm",
    )


def _bolts_as_a_whole(values: Values) -> Iterator[Problem]:
    if WRONG in values.entries("bolts"):
        return
    faces = [values.text(f"bolts.{label}.face") for label in values.items("bolts")]
    if values.text("joint.kind") == FLAT_POCKET:
        if not faces or "heel" in faces:
            yield Problem(
                "bolts",
                ", ".join(faces),
                "a flat pocket is drawn together through its floor; it has no heel face",
                'at least one bolt, each with face = "tongue"',
                "name the face so, or leave all bolts out for the usual four screws",
            )
        return
    if "heel" not in faces:
        yield Problem(
            "bolts",
            "",
            "nothing draws the heel to the block",
            'at least one bolt with face = "heel"',
            "add one, or leave all bolts out for the usual three",
        )


def _bolt_place(values: Values, label: str) -> Iterator[Problem]:
    path = f"bolts.{label}"
    face, half = values.text(f"{path}.face"), values.number(f"{path}.insert_diameter_mm") / 2
    length = _face_length_mm(values, face)
    yield from at_least(values, f"{path}.position_mm", half, because="the insert would stick out of the face")
    yield from at_most(
        values,
        f"{path}.position_mm",
        round(length - half, 3),
        because=f"the {face} face is {length:.4g} mm long",
    )


def _bolt_insert(values: Values, label: str) -> Iterator[Problem]:
    path = f"bolts.{label}"
    yield from at_least(
        values,
        f"{path}.insert_diameter_mm",
        values.number(f"{path}.diameter_mm"),
        because="the bolt turns inside the insert",
    )
    yield from at_least(
        values,
        f"{path}.washer_diameter_mm",
        1.5 * values.number(f"{path}.diameter_mm"),
        because="a washer is wider than its bolt",
    )
    room = "heel.cap_length_mm" if values.text(f"{path}.face") == "heel" else "tongue.depth_mm"
    yield from at_most(
        values, f"{path}.insert_length_mm", values.number(room), because=f"{room} is the wood that holds it"
    )


def _bolt_tension(values: Values, label: str) -> Iterator[Problem]:
    path = f"bolts.{label}"
    torque, tension = values.given(f"{path}.torque_n_m"), values.given(f"{path}.tension_n")
    if torque == tension:
        wrong = "torque and tension are both there" if torque else "the bolt has neither torque nor tension"
        yield Problem(
            path, "", wrong, "either torque_n_m or tension_n", "take one away" if torque else "add one"
        )


def _bolt_washer(values: Values, label: str) -> Iterator[Problem]:
    path = f"bolts.{label}"
    half = values.number(f"{path}.washer_diameter_mm") / 2
    if values.text(f"{path}.face") == "heel":
        above = (
            values.number("block.shelf_mm")
            if values.number("block.stem_mm") < values.number("block.length_mm")
            else 0.0
        )
        below = values.number("block.height_mm") - values.number("tongue.depth_mm")
        part = "the back of the block's stem, under its shelf (block.shelf_mm)"
    else:
        solid = values.number("block.stem_mm") >= values.number("block.length_mm")
        above = 0.0 if solid else values.number("block.stem_mm")
        below = values.number("block.length_mm")
        part = "the underside of the block's shelf, beyond its stem (block.stem_mm)"
    because = f"its washer, {2 * half:g} mm wide, bears on {part}"
    yield from at_least(values, f"{path}.position_mm", round(above + half, 3), because=because)
    yield from at_most(values, f"{path}.position_mm", round(below - half, 3), because=because)


def _pocket(values: Values) -> Iterator[Problem]:
    if values.text("joint.kind") != FLAT_POCKET:
        for key in ("block.wall_mm", "joint.end_gap_mm"):
            if values.given(key):
                wrong = "only a flat pocket has an end wall"
                yield Problem(key, f"{values.number(key):g}", wrong, "none", "take it away")
        return
    heel, length = values.number("heel.height_mm"), values.number("tongue.length_mm")
    depth = "in a flat pocket the tongue is the heel itself"
    yield from at_least(values, "tongue.depth_mm", heel, because=depth)
    yield from at_most(values, "tongue.depth_mm", heel, because=depth)
    yield from at_most(values, "block.wall_mm", heel, because=f"the heel is {heel:g} mm deep")
    yield from at_least(
        values, "block.length_mm", length + 10, because="the pocket's wall needs 10 mm beyond the tongue"
    )
    yield from at_least(
        values,
        "block.width_mm",
        values.number("shims.pocket.bearing_width_mm"),
        because="the shim bears on it",
    )
    for key in ("heel.outline_csv", "heel.mesh"):
        if values.given(key):
            yield Problem(
                key,
                f'"{values.text(key)}"',
                "measured heels and meshes are for two-shim joints",
                "none in a flat pocket",
                "take it away",
            )


def _hollow(values: Values, label: str) -> Iterator[Problem]:
    path = f"hollows.{label}"
    first = values.number(f"{path}.from_mm")
    yield from at_least(
        values,
        f"{path}.from_mm",
        -values.number("heel.start_mm"),
        because="hollows lie over the joint: from the heel start to the tongue's end",
    )
    yield from at_least(values, f"{path}.to_mm", first + 1, because="it ends after it begins")
    yield from at_most(
        values, f"{path}.to_mm", values.number("tongue.length_mm"), because="the tongue ends there"
    )
    deepest = values.number("heel.height_mm")
    yield from at_least(
        values, f"{path}.bottom_mm", values.number(f"{path}.top_mm") + 1, because="it ends under its top"
    )
    yield from at_most(values, f"{path}.bottom_mm", deepest, because=f"the heel is {deepest:g} mm deep")
    yield from at_most(
        values,
        f"{path}.width_mm",
        values.number("tongue.width_mm") - 2,
        because="the tongue must keep a millimetre on either side",
    )


CHECKS = (
    _pocket,
    _tongue_width,
    _tongue_length,
    _block_length,
    _block_height,
    _block_stem,
    _block_shelf,
    _block_width,
    _friction,
    _shims_as_a_whole,
    _bolts_as_a_whole,
)
SHIM_CHECKS = (_shim_pad, _shim_width, _shim_thin_edge)
HOLLOW_CHECKS = (_hollow,)
BOLT_CHECKS = (_bolt_place, _bolt_washer, _bolt_insert, _bolt_tension)
