"""Tests; a package so that `python -m tests.evidence` finds the rows that the tests also run."""
