"""Tables of woods, strings, metals and shims, each number with its source; their moduli and tensions."""
