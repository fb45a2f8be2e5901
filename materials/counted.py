"""A number with what it counts."""


def counted(count: int, one: str, several: str = "") -> str:
    """Return a number and its word, one or several.

    >>> counted(1, "fit"), counted(0, "fit"), counted(2, "thing is wrong", "things are wrong")
    ('1 fit', '0 fits', '2 things are wrong')
    """
    return f"{count} {one if count == 1 else several or one + 's'}"
