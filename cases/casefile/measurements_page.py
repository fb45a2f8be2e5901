"""docs/what-to-measure.md, made from the measurements.

`python -m cases.casefile.measurements_page > docs/what-to-measure.md` writes it.
"""

from cases.casefile.measurements import MEASUREMENTS

PAGE = """# What to measure, with what

Eleven lengths, the torque of the bolts, the names of the woods and the strings, and your shims: these make a
case. This page says where to measure each and with which tool.

![A neck from above and from the side, its joint and three gaps, each length with a letter]\
(figures/what-to-measure.png)

## Into the file

`neckpreload new mine` writes `mine.toml` with these values, each with its letter, its tool and the place to
measure. They are those of `fourteen-mahogany`, or of the case that you name with `--like`: write your own
over them. `neckpreload new mine --ask` asks for them one by one instead and checks each answer at once. A
number stands alone, in the unit of its key's name, or in quotes with its own unit: `"5/64in"`, `"0.008in"`,
`"9 in-lb"`.

A value that you have not changed counts as copied. `neckpreload check mine.toml` says how many values were
measured, copied and assumed, `--assumed` lists the last two, and `neckpreload sensitivity mine.toml` says
which is worth measuring next: it takes a copied or assumed value as uncertain by a tenth, a length from a
calliper by 0.2 mm.

## The list

{table}
## The reading of the pocket

`neckpreload pair` asks for one more value, on every guitar: how high the bare pocket points at the saddle.

1. Strings, saddle and neck are off, and no shim is in. Clean the seat of the tongue.
2. Set two spacers of one height on that seat, one at each end, in the middle of its width. Lay a straightedge
   on both, so that it reaches over the saddle slot and touches neither top nor bridge.
3. At the saddle slot, measure with a rule from the top up to the lower edge of the straightedge. Where the
   bridge is in the way, measure from its upper face, and add the height of the bridge there.
4. Give this height and that of the spacers, for example `--reading 13.9mm --gauge-step 25mm`. Spacers as
   high as `tongue.depth_mm` plus the thickness of the upper shim need no `--gauge-step`.

Read to a tenth of a millimetre, twice or three times: 0.1 mm here is about 0.05 mm of action. [At the
bench](bench.md#the-reading) says what the program makes of it. The pair also depends on the heights of bridge
and saddle: measure `bridge.bridge_height_mm` over the top and `bridge.saddle_projection_mm` over the bridge,
both at the saddle, and write them into the file under `[bridge]`. Without them 8.0 and 3.2 mm are assumed,
and each millimetre of error is half a millimetre of action.

## With care

- Wear eye protection; slacken all strings before you undo a neck bolt.
- F, G, H and J need the neck off the body. If it must stay on, leave these values as they are; they then
  count as copied.
- For F the neck must be straight: slacken the rod, or set it so that no light shows under the straightedge
  between nut and joint fret. A tongue that falls away makes F larger than 0. One that rises above the line
  cannot be given; level the board first.
- Turn the rod in small steps and never force it; its maker's limit goes before any figure here.
- Tighten bolts only as far as you always do and read that torque; do not try how much the wood bears. If you
  are not sure, ask someone qualified.

This page and its drawing are generated: `python -m cases.casefile.measurements_page` and
`python -m cases.show.pictures.what_to_measure`.
"""


def page() -> str:
    """Return the page as Markdown."""
    lines = ["| | what | tool | where | key |", "|---|---|---|---|---|"]
    for one in MEASUREMENTS:
        cells = (one.letter, one.what, one.tool.lower(), one.where, f"`{one.key}`")
        lines.append("| " + " | ".join(cells) + " |")
    return PAGE.format(table="\n".join(lines) + "\n")


if __name__ == "__main__":
    print(page(), end="")
