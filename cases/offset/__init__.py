"""The main question: from a `Case` through the model to the `Answer`.

One case at a time; several answers side by side belong in `cases.studies`.
"""
