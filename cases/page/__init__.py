"""The page: the whole job in a browser; what it shows comes from the other modules of cases."""
