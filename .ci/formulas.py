"""Formulas of the docs site as MathML: browsers draw them, without a script and without the network."""

import html
import re

from latex2mathml.converter import convert

FORMULA = re.compile(r'<(span|div) class="arithmatex">(.*?)</\1>', re.DOTALL)


def on_page_content(content: str, **_: object) -> str:
    """Every formula that the markdown extension marked, drawn."""
    return FORMULA.sub(_drawn, content)


def _drawn(found: re.Match[str]) -> str:
    source = html.unescape(found[2]).strip().removeprefix("\\(").removesuffix("\\)")
    block = source.startswith("\\[")
    source = source.removeprefix("\\[").removesuffix("\\]")
    drawn = convert(source, display="block" if block else "inline")
    return f'<div class="formula">{drawn}</div>' if block else drawn
