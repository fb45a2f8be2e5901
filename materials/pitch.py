"""Frequencies of notes in equal temperament."""

import re

from materials.errors import MaterialError

_SEMITONE_FROM_A = {"C": -9, "D": -7, "E": -5, "F": -4, "G": -2, "A": 0, "B": 2}
_NOTE = re.compile(r"([A-Ga-g])(#{1,2}|b{1,2}|)([0-8])")
_REMEDY = "write notes like E2, F#3 or Bb2, with A4 = 440 Hz (low E of a guitar is E2)"


def note_frequency(note: str, *, a4: float = 440.0) -> float:
    """Return the frequency of a note [Hz], f = a4 2^(n / 12), n semitones above A4.

    Parameters
    ----------
    note : Letter, optional `#` or `b`, octave 0 to 8: `E2`, `F#3`, `Bb2`.
    a4 : Frequency of A4 [Hz], 380 to 480; ISO 16 sets 440.

    Raises `MaterialError`: not a note name, or a reference pitch out of range.

    Examples
    --------
    >>> round(note_frequency("E2"), 3)
    82.407
    """
    if not 380.0 <= a4 <= 480.0:
        raise MaterialError(f"reference pitch A4 = {a4:g} Hz is outside 380 to 480 Hz; ISO 16 sets 440")
    match = _NOTE.fullmatch(note.strip())
    if match is None:
        raise MaterialError(f"'{note}' is not a note name; {_REMEDY}")
    letter, accidental, octave = match.groups()
    semitones = _SEMITONE_FROM_A[letter.upper()] + accidental.count("#") - accidental.count("b")
    return float(a4 * 2.0 ** ((semitones + 12 * (int(octave) - 4)) / 12.0))


def parse_tuning(text: str) -> tuple[tuple[str, ...], ...]:
    """Read a tuning, low to high, into the notes of each course.

    Parameters
    ----------
    text : Notes separated by blanks; `E2/E3` is a course of two, main string first.

    Raises `MaterialError`: empty, or a part that is not a note.

    Examples
    --------
    >>> parse_tuning("E2/E3 B3")
    (('E2', 'E3'), ('B3',))
    """
    courses = tuple(tuple(course.split("/")) for course in text.split())
    if not courses:
        raise MaterialError("the tuning is empty; write the notes low to high, such as 'E2 A2 D3 G3 B3 E4'")
    for course in courses:
        for note in course:
            note_frequency(note)
    return courses
