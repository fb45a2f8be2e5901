"""The parts of the page: each builds its elements and tells its desk what the visitor does."""
