"""The set-up sheet as one self-contained HTML file."""

from html import escape

from cases.show import style
from cases.show.sheet.content import Block, Headline, Listing, Sheet, Table, Wedge

STYLE = f"""
@page {{ margin: 10mm }}
* {{ box-sizing: border-box }}
body {{ font: 10pt/1.3 "DejaVu Sans", Verdana, sans-serif; color: {style.INK}; background: #fff;
  max-width: 190mm; margin: 4mm auto; padding: 0 2mm }}
header {{ display: flex; justify-content: space-between; gap: 6mm; border-bottom: .5mm solid {style.INK} }}
h1 {{ font-size: 18pt; margin: 0; overflow-wrap: anywhere }}
h2 {{ font-size: 10pt; margin: 3mm 0 1mm }}
header p, header ul {{ margin: 0 0 1.5mm; font-size: 8.5pt; color: #444 }}
header ul {{ list-style: none; padding: 0; text-align: right; white-space: nowrap }}
dl {{ display: grid; grid-template-columns: max-content 1fr; gap: .5mm 3mm; margin: 2mm 0; font-size: 9pt }}
dt {{ font-weight: bold }} dd {{ margin: 0; overflow-wrap: anywhere }}
table {{ border-collapse: collapse; width: 100%; font-size: 9pt }}
th, td {{ text-align: right; padding: .4mm 1.2mm; border-bottom: .15mm solid {style.QUIET} }}
th:first-child, td:first-child {{ text-align: left; white-space: nowrap }}
th {{ font-weight: bold; font-size: 7.5pt; white-space: nowrap; border-bottom-color: {style.INK} }}
.pairs td {{ font-size: 13pt; font-weight: bold }} .pairs th, .pairs td {{ text-align: center }}
.offset {{ font-size: 30pt; font-weight: bold; color: {style.BLUE}; line-height: 1.1; margin: 0 }}
.small {{ font-size: 8.5pt; margin: .3mm 0; color: #333 }}
.columns {{ display: grid; grid-template-columns: 1fr 1fr; gap: 0 8mm }}
.narrow {{ display: grid; grid-template-columns: 1fr 1fr; gap: 0 4mm; align-items: start }}
ol, ul {{ margin: 0; padding-left: 5mm; font-size: 9pt }} li {{ margin: .4mm 0 }}
svg {{ width: 100%; max-width: 90mm; height: auto; display: block }}
@media (max-width: 150mm) {{ .columns {{ grid-template-columns: 1fr }} header {{ display: block }}
  header ul {{ text-align: left }} body {{ margin: 2mm }} .wide {{ overflow-x: auto }} }}
@media print {{ html {{ zoom: .78 }} body {{ margin: 0; max-width: none }}
  section {{ break-inside: avoid }} }}
"""


def sheet_html(sheet: Sheet) -> str:
    """The page."""
    left, right = ("".join(_block(block) for block in column) for column in sheet.columns)
    marks = "".join(f"<li>{escape(mark)}</li>" for mark in sheet.marks)
    facts = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in sheet.facts)
    return (
        "<!doctype html>\n<html lang='en'>\n<head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width, initial-scale=1'>"
        f"<title>Set-up sheet: {escape(sheet.title)}</title>\n<style>{STYLE}</style></head>\n<body>\n"
        f"<header><div><h1>{escape(sheet.title)}</h1><p>{escape(sheet.note)}</p></div><ul>{marks}</ul></header>\n"
        f"<dl>{facts}</dl>\n<div class='wide'>{_block(sheet.strings)}</div>\n"
        f"<div class='columns'><div>{left}</div>\n<div>{right}</div></div>\n"
        f"{_block(sheet.cautions)}\n</body>\n</html>\n"
    )


def _block(block: Block) -> str:
    match block:
        case Headline():
            inner = f"<p class='offset'>{escape(block.figure)}</p>" + "".join(map(_small, block.notes))
        case Table():
            inner = _table(block)
        case Listing():
            tag = "ol" if block.numbered else "ul"
            inner = f"<{tag}>{''.join(f'<li>{escape(line)}</li>' for line in block.lines)}</{tag}>"
        case Wedge():
            inner = _wedge(block)
        case _:
            return _small(block)
    return f"<section><h2>{escape(block.title)}</h2>{inner}</section>"


def _small(text: str) -> str:
    return f"<p class='small'>{escape(text)}</p>"


def _table(table: Table) -> str:
    head = "".join(f"<th>{escape(cell)}</th>" for cell in table.head)
    tables = ""
    for part in table.parts:
        rows = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in part)
        kind = "pairs" if table.large else ""
        tables += f"<table class='{kind}'><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    beside = f"<div class='narrow'>{tables}</div>" if table.large else tables
    return beside + (_small(table.note) if table.note else "")


def _wedge(wedge: Wedge) -> str:
    """A shim: thickness to scale, length not."""
    tall = max(wedge.left_mm, wedge.right_mm)
    left, right = (40.0 - 24.0 * edge / tall for edge in (wedge.left_mm, wedge.right_mm))
    return (
        f"<svg viewBox='0 0 340 58' role='img' "
        f"aria-label='{escape(wedge.title)}'><polygon points='72,40 268,40 268,{right:.1f} 72,{left:.1f}' "
        f"fill='{style.WOOD}' stroke='{style.INK}'/>"
        f"<g font-size='13' fill='{style.INK}'>"
        f"<text x='66' y='38' text-anchor='end'>{wedge.left_mm:.2f} mm</text>"
        f"<text x='274' y='38'>{wedge.right_mm:.2f} mm</text><text x='72' y='54'>{escape(wedge.left)}</text>"
        f"<text x='268' y='54' text-anchor='end'>{escape(wedge.right)}</text></g></svg>"
    )
