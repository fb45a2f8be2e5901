"""Tables of woods, strings, metals and shims, each number with its source, and what turns them into moduli."""
