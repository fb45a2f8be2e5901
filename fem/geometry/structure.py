"""The instrument for the mechanics: shapes, woods and hardware in SI; `fem.solve.condense` takes it."""

from dataclasses import dataclass, replace

from fem.geometry.hardware import Bolt, Rod
from fem.geometry.mesh import Block, JointMesh
from fem.geometry.outline import Array, Outline
from fem.geometry.pad import Pad
from fem.geometry.section_shape import SectionMaterial


@dataclass(frozen=True)
class WoodPlate:
    """A piece of wood cut for its place.

    ``moduli`` (3, 3) is the plane-stress stiffness in the side view, order xx, zz, engineering xz [Pa],
    ``along`` its derivative by ln E_L, E_L the modulus along the grain; ``section`` holds the moduli for
    bending and shear [Pa]. ``solid`` (6, 6) is the compliance in x, y and z, order xx, yy, zz, yz, xz, xy
    [1/Pa]; without it a piece has no local compliance under pads and bolts (`fem.joint.across_width`), and
    the block holds no strain across.
    """

    moduli: Array
    along: Array
    section: SectionMaterial
    solid: Array | None = None


@dataclass(frozen=True)
class BarRun:
    """A bonded bar: centre ``y``, ``z`` and size [m], moduli [Pa], and its extent along the neck [m]."""

    y: float
    z: float
    width: float
    height: float
    young: float
    shear: float
    first: float
    last: float


@dataclass(frozen=True)
class Hollow:
    """Missing neck wood: ``width`` across the neck, between two positions x and two heights z [m]."""

    first: float
    last: float
    top: float
    bottom: float
    width: float


@dataclass(frozen=True)
class Structure:
    """All stiffness-bearing parts; no loads, shim angles, bolt tensions or rod setting.

    ``held`` names the block's glued edges: ``top`` (its upper face beyond the tongue), ``bottom`` (of the
    stem), ``back`` (of the stem). ``frets`` are the positions 1..last [m]; ``rod_slot_width`` is the width
    of the rod's channel [m]; ``mesh``, if given, replaces the mesh made from outline and block.
    """

    outline: Outline
    block: Block
    neck: WoodPlate
    board: WoodPlate
    block_wood: WoodPlate
    pads: tuple[Pad, ...]
    bolts: tuple[Bolt, ...]
    frets: Array
    joint_fret: int
    held: tuple[str, ...] = ("top", "bottom")
    rod: Rod | None = None
    rod_slot_width: float = 0.0
    bars: tuple[BarRun, ...] = ()
    hollows: tuple[Hollow, ...] = ()
    mesh: JointMesh | None = None

    def with_tie(self, x: float) -> "Structure":
        """The same instrument with the tie between beam and plate at x [m]."""
        return replace(self, outline=replace(self.outline, tie=x))
