"""Decks for programs outside the project, and the numbers they gave."""
