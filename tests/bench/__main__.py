"""Runs the benchmarks named on the command line; without a name, lists them."""

from __future__ import annotations

import sys
from importlib import import_module
from pkgutil import iter_modules

import tests.bench as benches


def main(arguments: list[str]) -> int:
    names = sorted(m.name for m in iter_modules(benches.__path__) if not m.name.startswith("_"))
    if not arguments or arguments[0] not in names:
        for name in names:
            summary = (import_module(f"tests.bench.{name}").__doc__ or "").splitlines()[0]
            print(f"{name:20} {summary}")
        return 0 if not arguments else 2
    status: int = import_module(f"tests.bench.{arguments[0]}").run(arguments[1:])
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
