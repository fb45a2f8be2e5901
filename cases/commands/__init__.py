"""The commands, one file each; cases/cli.py registers them."""
