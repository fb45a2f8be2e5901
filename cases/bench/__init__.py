"""The bench: what a person with a guitar in hand measures, logs, looks back on."""
