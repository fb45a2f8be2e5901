"""Frequencies of notes in equal temperament."""

import math
import re
from collections.abc import Sequence

from materials.counted import counted
from materials.errors import MaterialError

_SEMITONE_FROM_A = {"C": -9, "D": -7, "E": -5, "F": -4, "G": -2, "A": 0, "B": 2}
_NOTE = re.compile(r"([A-Ga-g])(#{1,2}|b{1,2}|)([0-8])")
_LETTER = re.compile(r"[A-Ga-g](?:#{1,2}|b{1,2}|)")
_RUN_TOGETHER = re.compile(r"(?:[A-G][#b]?)+")
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


def with_octaves(text: str, usual: Sequence[tuple[str, ...]]) -> str:
    """Return a tuning with an octave for each note that has none: the nearest to the string's usual note.

    `D A D G A D` and `DADGAD` are read low to high. A note six semitones from two octaves goes down, since
    slacker is safer.

    Parameters
    ----------
    text : Notes low to high.
    usual : Usual notes of each course, low to high.

    Raises `MaterialError`: notes without octaves that are more or fewer than the courses.

    Examples
    --------
    >>> with_octaves("DADGAD", [("E2",), ("A2",), ("D3",), ("G3",), ("B3",), ("E4",)])
    'D2 A2 D3 G3 A3 D4'
    """
    joined = _RUN_TOGETHER.fullmatch(text.strip()) is not None and len(usual) > 1
    words = _LETTER.findall(text) if joined else text.split()
    if len(words) != len(usual):
        if any(_LETTER.fullmatch(word) for word in words):
            raise MaterialError(
                f"tuning '{text}' names {counted(len(words), 'course')}, the strings have {len(usual)}; "
                "give one note for each course, low to high"
            )
        return text
    found = []
    for word, notes in zip(words, usual, strict=True):
        parts = word.split("/")
        known = (*notes, *notes[-1:] * len(parts))
        found.append("/".join(_near(part, known[place]) for place, part in enumerate(parts)))
    return " ".join(found)


def _near(note: str, usual: str) -> str:
    if _LETTER.fullmatch(note) is None:
        return note
    semitones = 12.0 * math.log2(note_frequency(f"{note}4") / note_frequency(usual))
    # the octave with -6 <= semitones from the usual note < 6
    octave = 4 - math.floor(round(semitones + 6.0, 6) / 12.0)
    return f"{note}{min(max(octave, 0), 8)}"
