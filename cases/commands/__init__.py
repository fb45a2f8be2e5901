"""The commands, one file each: options in, one call, text out; registered in `cases.cli`.

No calculation and no wording of results. At the top of a file only typer may be imported, and the rest inside
the function, so that the other commands start fast. Errors are raised; `cases.cli.main` prints them.
"""
