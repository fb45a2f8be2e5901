"""One file for each subcommand: it parses nothing but its own options, calls, and prints.

A new command is a function here and one line in `cases/cli.py`. At the top of a file only typer may be
imported; what the command needs is imported inside the function, so that the other commands start fast.
Errors are raised, never printed: `cases.cli.main` turns them into one sentence and the exit code.
"""
