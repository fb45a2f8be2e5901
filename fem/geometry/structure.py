"""The instrument as the mechanics see it: shapes, woods and hardware, all SI; what `fem.condense` makes a
flexibility of.
"""

from dataclasses import dataclass, replace

from fem.geometry.hardware import Bolt, Rod
from fem.geometry.mesh import Block, JointMesh
from fem.geometry.outline import Array, Outline
from fem.geometry.pad import Pad
from fem.geometry.section_shape import SectionMaterial


@dataclass(frozen=True)
class WoodPlate:
    """A piece of wood cut for its place.

    Attributes
    ----------
    moduli : (3, 3) array [Pa], plane-stress stiffness in the side view (xx, zz, engineering xz).
    along : (3, 3) array [Pa], d(moduli) / d(ln E_L): the share that scales with the modulus along the grain.
    section : moduli that bend and shear the cross-section [Pa].
    solid : (6, 6) compliance in x, y and z, order xx, yy, zz, yz, xz, xy [1/Pa]; only the block's is asked
      for, and without it the block does not yield across its width (`fem.joint.local_indentation`).
    """

    moduli: Array
    along: Array
    section: SectionMaterial
    solid: Array | None = None


@dataclass(frozen=True)
class BarRun:
    """A bonded bar: centre ``y``, ``z``, size [m], modulus and shear modulus [Pa], and its extent along
    the neck [m].
    """

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
    """A local loss of neck wood: ``width`` is missing between two positions x and down to a depth below
    the glue line [m].
    """

    first: float
    last: float
    top: float
    bottom: float
    width: float


@dataclass(frozen=True)
class Structure:
    """Everything that gives stiffness; no loads, no shim angles, no bolt tension, no rod setting.

    ``held`` names the block's glued edges: ``top`` (its upper face beyond the tongue), ``bottom`` (of the
    stem), ``back`` (of the stem). ``frets`` are the positions 1..last [m]; ``rod_slot_width`` is the width
    of the rod's channel [m]; ``mesh``, when given, takes the place of the one made from outline and block.
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
        """The same instrument with the beam handing over to the plate at x [m]."""
        return replace(self, outline=replace(self.outline, tie=x))
