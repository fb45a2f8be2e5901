"""The revisions of the logbook's tables, in `versions/`; alembic runs them when a logbook is opened."""
