"""Numbers of a case that can change its answer, and what changes with one of them."""

from cases.casefile.case import Case
from cases.offset.assumed_effects import CONDENSED, is_inert


def keys_that_matter(case: Case) -> tuple[str, ...]:
    """Numbers of a case that can change its answer; fret counts are left out, a pair of bars comes once."""
    second = {max(bar.name, twin) for bar in case.bars if (twin := mirror_bar(case, bar.name)) is not None}
    return tuple(
        key
        for key in case.numeric_keys()
        if isinstance(case.value(key), float)
        and not is_inert(key)
        and not (key.startswith("bars.") and key.split(".")[1] in second)
    )


def mirror_bar(case: Case, name: str) -> str | None:
    """The bar that mirrors another across the centre line; None if there is none."""
    mine = next(bar for bar in case.bars if bar.name == name)
    same = {"name", "y_mm"}
    for bar in case.bars:
        alike = bar.model_dump(exclude=same) == mine.model_dump(exclude=same)
        if alike and bar.name != name and bar.y_mm == -mine.y_mm:
            return bar.name
    return None


def with_mirror(case: Case, key: str, value: float) -> dict[str, object]:
    """A key's new value, and that of the mirror bar: a section must stay symmetric."""
    values: dict[str, object] = {key: value}
    if key.startswith("bars."):
        _, name, field = key.split(".")
        twin = mirror_bar(case, name)
        if twin is not None:
            values[f"bars.{twin}.{field}"] = -value if field == "y_mm" else value
    return values


def changes_rows(key: str) -> bool:
    """Whether a key changes the flexibility: the bodies, or the rows of a pad or a bolt."""
    table, name = key.split(".")[0], key.split(".")[-1]
    return name not in CONDENSED.get(table, ())


def changes_shape(key: str) -> bool:
    """Whether a key needs a new mesh or new sections."""
    table, name = key.split(".")[0], key.split(".")[-1]
    return changes_rows(key) and table != "bolts" and name != "bearing_width_mm"


def changes_shaft(key: str) -> bool:
    """Whether a key belongs to the shaft or its board, for which a very coarse mesh of the joint will do."""
    return key.split(".")[0] in ("neck", "fretboard", "rod", "bars")
