"""Runs the benchmarks that are named, or all, and prints their figures as a table of Markdown."""

from __future__ import annotations

import argparse
import importlib
import os
import pkgutil
import platform
from pathlib import Path

from tests.benchmarks import Figure


def _names() -> list[str]:
    found = pkgutil.iter_modules([str(Path(__file__).parent)])
    names = [module.name for module in found if not module.name.startswith("_")]
    return [name for name in names if hasattr(importlib.import_module(f"tests.benchmarks.{name}"), "run")]


def _line(figure: Figure) -> str:
    value = f"{figure.value:,.0f}" if figure.value >= 1000 else f"{figure.value:.3g}"
    return f"| {figure.what} | {value} | {figure.unit} | {figure.note} |"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="MODULE", help="which to run; all where none is named")
    parser.add_argument("--scale", type=float, default=1.0, help="share of the full size to run at")
    arguments = parser.parse_args()
    print(f"{os.cpu_count()} cores, Python {platform.python_version()}, scale {arguments.scale:g}\n")
    print("| what | figure | unit | on |\n| --- | ---: | --- | --- |")
    for name in arguments.names or _names():
        for figure in importlib.import_module(f"tests.benchmarks.{name}").run(arguments.scale):
            print(_line(figure), flush=True)


if __name__ == "__main__":
    main()
