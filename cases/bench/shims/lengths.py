"""A length as the bench reads it: in mm, or in inches where the house counts in them."""

MM_PER_INCH = 25.4


def length(value_mm: float, *, inch: bool, signed: bool = False) -> str:
    """A length with its unit.

    >>> length(1.8, inch=False), length(1.8, inch=True, signed=True)
    ('1.80 mm', '+0.071 in')
    """
    sign = "+" if signed else ""
    if inch:
        return f"{value_mm / MM_PER_INCH:{sign}.3f} in"
    return f"{value_mm:{sign}.2f} mm"
