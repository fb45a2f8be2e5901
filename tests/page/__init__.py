"""The page, tested at its parts, at its server and in a real browser."""
