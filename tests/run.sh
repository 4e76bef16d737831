#!/bin/sh
# Everything that must pass before a change may land. Makes its own environment beside the checkout's files.
set -eu
cd "$(dirname "$0")/.."
venv=${LOADWORTHY_VENV:-.venv}
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --editable '.[test]'
PATH="$PWD/$venv/bin:$PATH"
case $venv in /*) PATH="$venv/bin:$PATH" ;; esac
export PATH

step() { printf '\n== %s\n' "$*"; "$@"; }

step ruff check .
step ruff format --check .
step mypy
step lint-imports
# Speed and memory are measured alone, after the rest, so that nothing else runs beside them.
step python -m pytest --numprocesses 2 --ignore tests/benchmarks "$@"
step python -m pytest tests/benchmarks "$@"
