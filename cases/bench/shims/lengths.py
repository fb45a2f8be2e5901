"""Text of lengths, in mm or in inches, and of shim angles."""

MM_PER_INCH = 25.4


def length(value_mm: float, *, inch: bool, signed: bool = False) -> str:
    """Return a length with its unit.

    >>> length(1.8, inch=False), length(1.8, inch=True, signed=True)
    ('1.80 mm', '+0.071 in')
    """
    sign = "+" if signed else ""
    if inch:
        return f"{value_mm / MM_PER_INCH:{sign}.3f} in"
    return f"{value_mm:{sign}.2f} mm"


def shim_angle(angle_deg: float) -> str:
    """Return a shim angle with two decimals [deg].

    >>> shim_angle(-0.001)
    '0.00'
    """
    return f"{angle_deg:.2f}" if round(angle_deg, 2) else "0.00"
