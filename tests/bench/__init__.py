"""Benchmarks: `uv run python -m tests.bench NAME`. Timings live here and never in a test.

One module a benchmark, named as it is called, with a docstring whose first line says what it
measures and a function ``run(arguments: list[str]) -> int`` that prints its figures and returns
an exit status (0 when its limits hold). Adding the module is all it takes to register it.
"""
