"""docs/case-file.md, made from the schema: `python -m cases.casefile.reference_page > docs/case-file.md`."""

from collections.abc import Iterable

from cases.casefile.case import Case
from cases.casefile.defaults import table_models
from cases.casefile.describe import KeyRow, table_rows, top_rows
from cases.casefile.key_values import LISTS
from cases.casefile.workshop import Workshop

INTRODUCTION = """# The case file

A case is one instrument with its woods, strings and set-up, written as TOML. This page is generated from the
schema (`python -m cases.casefile.reference_page`); a test compares the two.

## The twelve keys

These twelve make a whole case; everything else has a default, and the answer lists the defaults it used.

```toml
[instrument]
scale_mm = 647.7            # nut to saddle, before compensation
body_joint_fret = 14        # the fret where the neck meets the body
last_fret = 20

[neck]
wood = "mahogany-honduran"  # a name of `neckpreload woods`
width_nut_mm = 43.0
width_joint_mm = 56.0       # of the fretboard at the body joint
depth_fret1_mm = 21.5       # fretboard and neck together
depth_fret10_mm = 24.0

[fretboard]
wood = "rosewood-indian"

[heel]
height_mm = 95.0            # from the glue line down to the heel cap

[strings]
set = "acoustic-light"      # a name of `neckpreload strings`, or `gauges_in` with your own

[stock]
list_deg = [-0.16, -0.12, -0.08, -0.04, 0.0]
```

The stock may have `from_deg`, `to_deg` and `step_deg` instead of the list, and may be in
[workshop.toml](#workshoptoml). `neckpreload new NAME --like CASE` writes a file with what to
[measure](what-to-measure.md), with `--ask` it asks for it, with `--all` it writes every key.
`neckpreload check CASE` validates a file without solving.

## Units, signs and words

Lengths are in mm, angles in degrees, forces in N, torques in N m, moduli in GPa; the unit is part of the
key's name. A number may have its own unit instead, in a file in quotes: `relief_mm = "0.008in"`. Lengths
take mm, cm, m, in, thou; angles deg, rad; forces N, kN, lbf; torques N m, N cm, in-lb, ft-lb; moduli GPa,
MPa, psi, ksi; densities kg/m3, g/cm3, lb/ft3. `check` shows what was converted.

A new file ends with `[copied]`, a record of the values that came from the other case: `from` names it, and
each key has the value that was copied. A value that still equals its line there counts as copied, not as
measured: `check`, `--json` and `sensitivity` tell measured, copied and assumed values apart. The record
changes no result, and a file without it is as valid.

x runs along the fretboard from the nut to the bridge. The glue line is the plane between neck and
fretboard. Pads and bolts are measured from the joint's corner, at the body joint
on the tongue's underside: along the tongue towards the bridge, along the heel face down to the cap.

"Common practice, no source" means that no published figure was found; "from memory" that a figure was
recalled, not read again. Strings, rods and bolts under load can hurt: slacken the strings before undoing a
bolt, protect the eyes, and keep to the rod maker's own limit.
"""

LIST_NOTES = {
    "shims": "Two items, named `upper` and `lower`, or in a flat pocket one named `pocket`; whatever "
    "is left out has its default.",
    "bolts": "One item for each bolt. Default: `heel-top` (M6, 1.2 N m, washer 25 mm, 13 mm under the "
    "shelf), `heel-low` (the same, at 0.73 of the heel face) and `tongue` (M5, 0.4 N m, midway between stem "
    "and tongue's end); in a flat pocket four screws, 700 N each, at 0.2 and 0.8 of its length.",
    "hollows": "One item for each hollow; default: none.",
    "bars": "One item for each bonded bar; default: none.",
    "woods": "One item for each wood of your own that the table lacks; `neck.wood`, `fretboard.wood` and "
    "`block.wood` may then name it; default: none. Elastic ratios and shrinkage are those of a relative in "
    "the table: with the same first word in its name if there is one, else of the same kind, the nearest in "
    "density; every output says which.",
}


WORKSHOP = """## workshop.toml

Settings for all cases of a workshop are in one file: the one given by `--workshop FILE`, else
`workshop.toml` of the current folder, else the user's own (`neckpreload check CASE` prints which was read).
Besides the keys below it may have `[stock]` and `[tolerance]` with the keys above. A stock in a case replaces
the workshop's whole stock; a tolerance in a case replaces that one key.

```toml
cases_folder = "guitars"
units = "inch"

[stock]
list_deg = [-0.2, -0.1, 0.0, 0.1, 0.2]
```
"""


def case_file_page() -> str:
    """Return the page as Markdown."""
    parts = [INTRODUCTION, "## At the top of the file\n", _table(top_rows())]
    for name, model in table_models(Case).items():
        title = f"[[{name}]]" if name in LISTS else f"[{name}]"
        parts += [f"## {title}\n", f"{model.__doc__}\n"]
        if name in LIST_NOTES:
            parts.append(LIST_NOTES[name] + "\n")
        parts.append(_table(table_rows(model)))
    return "\n".join([*parts, WORKSHOP, _table(table_rows(Workshop))])


def _table(rows: Iterable[KeyRow]) -> str:
    lines = ["| key | meaning | allowed | default | source of the default |", "|---|---|---|---|---|"]
    for row in rows:
        default = row.default or "none"
        cells = (f"`{row.key}`", row.meaning, row.allowed, default, row.source)
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(case_file_page(), end="")
