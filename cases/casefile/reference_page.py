"""docs/case-file.md, made from the schema: `python -m cases.casefile.reference_page > docs/case-file.md`."""

from collections.abc import Iterable

from cases.casefile.case import Case
from cases.casefile.defaults import table_models
from cases.casefile.describe import KeyRow, table_rows, top_rows
from cases.casefile.key_values import LISTS
from cases.casefile.workshop import Workshop

INTRODUCTION = """# The case file

A case is one instrument with its woods, strings and set-up, written as TOML. This page is made from the
schema (`python -m cases.casefile.reference_page`); a test compares the two.

A case runs with twelve keys: `scale_mm`, `body_joint_fret`, `last_fret`, `width_nut_mm`,
`width_joint_mm`, `depth_fret1_mm`, `depth_fret10_mm`, the neck's `wood`, the fretboard's `wood`, the
heel's `height_mm`, the strings' `set`, and the shim stock, as `list_deg` or as the three keys `from_deg`,
`to_deg` and `step_deg` (it may stand in [workshop.toml](#workshoptoml) instead).
All else has a default; the answer lists what it assumed. `neckpreload new NAME --like CASE` writes a
commented file to start from, `neckpreload check CASE` validates one without solving.

Lengths are in mm, angles in degrees, forces in N, torques in N m, moduli in GPa; the unit stands in the
key's name. On the command line a length may carry its own unit: `1.8mm`, `0.071in`, `5/64in`.

x runs along the fretboard from the nut to the bridge. The glue line is the plane between neck and
fretboard. The joint's corner, from which pads and bolts are measured, lies at the body joint at the
height of the tongue's underside: along the tongue towards the bridge, along the heel face down to the
cap.

"Common practice, no source" means that no published figure was found; "from memory" that a figure is
recalled, not re-read. Strings, rods and bolts under load can hurt: slacken the strings before undoing a
bolt, protect the eyes, and let the rod maker's own limit go before any figure here.
"""

LIST_NOTES = {
    "shims": "Two items, named `upper` and `lower`, or in a flat pocket one named `pocket`; what is left out "
    "has its default, so all may stay away.",
    "bolts": "One item a bolt. Without any: `heel-top` (M6, 1.2 N m, washer 25 mm, 13 mm under the shelf), "
    "`heel-low` (the same, at 0.73 of the heel face) and `tongue` (M5, 0.4 N m, midway between stem and "
    "tongue's end); in a flat pocket four screws, 700 N each, at 0.2 and 0.8 of its length.",
    "hollows": "One item a hollow; none without.",
    "bars": "One item a bonded bar; none without.",
}


WORKSHOP = """## workshop.toml

What holds for every case of a workshop stands in a file of its own: the one that `--workshop FILE` names,
else `workshop.toml` of the current folder, else the user's own (`neckpreload check CASE` says which was
read). Beside the keys below it may hold `[stock]` and `[tolerance]` with the keys above. A stock of its own
in a case replaces the workshop's whole; a tolerance of its own replaces that one key.

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
