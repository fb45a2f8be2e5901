"""Settings that make the run cheaper: one thread for linear algebra, no garbage collection of what stays."""

import gc
import os

# set before numpy is first imported; the matrices are too small for threads
for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(variable, "1")

# imports and collected tests stay to the end; searching them for garbage doubles the cost of collection
gc.disable()


def pytest_collection_finish() -> None:
    """Leave what was collected out of later garbage collections."""
    gc.freeze()
    gc.enable()
