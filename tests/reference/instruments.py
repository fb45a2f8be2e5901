"""The instruments of the comparison with a solid, from inputs.json: fixed before the first comparison."""

import json
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any

from cases.offset.woods import block_plate, wood_plate
from fem.geometry.hardware import Bolt
from fem.geometry.mesh import Block
from fem.geometry.outline import Outline, fret_positions
from fem.geometry.pad import Pad
from fem.geometry.structure import Structure
from fem.solve.equilibrium import Strings
from materials.orientation import ring_angle
from materials.wood import Wood, wood

INPUTS = Path(__file__).with_name("inputs.json")
MM = 1e-3


@cache
def inputs() -> dict[str, Any]:
    """What was fixed beforehand."""
    return dict(json.loads(INPUTS.read_text(encoding="utf-8")))


@dataclass(frozen=True)
class Instrument:
    """One instrument of the comparison: what both models are made from, SI."""

    name: str
    cut: str
    structure: Structure
    neck: Wood
    board: Wood
    block: Wood
    strings: Strings
    saddle_height: float

    @property
    def end_load(self) -> tuple[float, float, float]:
        """Force x and z and moment of the strings at the nut on the undeformed neck, for u, w and theta."""
        t, n = self.strings.tension, self.strings.nut_height
        return t, t * (self.saddle_height - n) / self.strings.saddle, -t * n


def _outline(given: dict[str, float]) -> Outline:
    scale = given["scale"] * MM
    frets = fret_positions(scale, int(given["last_fret"]))
    joint = float(frets[int(given["joint_fret"]) - 1])
    start = joint - given["heel_start"] * MM
    end = float(frets[-1]) + given["overhang"] * MM
    lengths = {one.name for one in fields(Outline)} & given.keys()
    lengths -= {"scale", "heel_start", "profile_exponent", "heel_exponent"}
    return Outline(
        scale=scale,
        joint=joint,
        heel_start=start,
        tie=start,
        board_end=end,
        tongue_end=end,
        depth_at=(float(frets[0]), float(frets[9])),
        depth_total=(given["depth_fret1"] * MM, given["depth_fret10"] * MM),
        profile_exponent=given["profile_exponent"],
        heel_exponent=given["heel_exponent"],
        slot_depth=0.0,
        thickness_floor=inputs()["thickness_floor"] * MM,
        **{name: given[name] * MM for name in lengths},
    )


def _pad(name: str, face: str, ends: list[float]) -> Pad:
    shim = inputs()["shims"]
    return Pad(
        name=name,
        face=face,
        start=ends[0] * MM,
        end=ends[1] * MM,
        bearing_width=1.0,
        middle=shim["thickness"] * MM,
        young=shim["young"] * 1e6,
        shear=shim["shear"] * 1e6,
        compliance=shim["bedding_um_per_mpa"] * 1e-12,
    )


def _bolt(number: int, given: dict[str, Any]) -> Bolt:
    bolt = inputs()["bolt"] | given
    return Bolt(
        name=f"{given['face']}-{number}",
        face=given["face"],
        position=given["position"] * MM,
        diameter=6e-3,
        washer_diameter=bolt["washer_diameter"] * MM,
        insert_length=bolt[f"{given['face']}_insert_length"] * MM,
        insert_diameter=bolt["insert_diameter"] * MM,
        young=2.1e11,
        tension=given["tension"],
    )


@cache
def instrument(name: str, cut: str) -> Instrument:
    """An instrument by the name of its geometry and the cut of its neck wood."""
    given = inputs()["geometries"][name]
    outline = _outline(given["outline"])
    neck, board, stem = (wood(given[f"{part}_wood"]) for part in ("neck", "board", "block"))
    shape = inputs()["block"] | given.get("block", {})
    block = Block(
        length=outline.tongue_end - outline.joint + shape["beyond_tongue"] * MM,
        stem=shape["stem"] * MM,
        shelf=shape["shelf"] * MM,
        height=outline.heel_height,
        width=shape["width"] * MM,
    )
    structure = Structure(
        outline=outline,
        block=block,
        neck=wood_plate(neck, ring=ring_angle(cut)),
        board=wood_plate(board, ring=ring_angle(inputs()["board_cut"])),
        block_wood=block_plate(stem, grain=shape["grain"]),
        pads=(_pad("upper", "tongue", given["upper"]), _pad("lower", "heel", given["lower"])),
        bolts=tuple(_bolt(i, one) for i, one in enumerate(given["bolts"])),
        frets=fret_positions(outline.scale, int(given["outline"]["last_fret"])),
        joint_fret=int(given["outline"]["joint_fret"]),
        held=tuple(shape["held"]),
    )
    strings = given["strings"]
    pull = Strings(
        strings["tension"], strings["nut_height"] * MM, outline.scale + strings["compensation"] * MM
    )
    return Instrument(name, cut, structure, neck, board, stem, pull, strings["saddle_height"] * MM)


def instruments() -> list[tuple[str, str]]:
    """Geometry and cut of all instruments."""
    given = inputs()
    each = given["geometries"].items()
    return [(name, cut) for name, one in each for cut in one.get("cuts", given["cuts"])]


def computed(name: str, variant: str) -> bool:
    """Whether the solid of a geometry is computed in this joint."""
    given = inputs()
    return variant in given["geometries"][name].get("variants", given["variants"])
