# Every target does its own set-up in .venv; nothing but Python 3.11 or later and make is needed.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
RUNTIME := $(VENV)/.ready-to-run
DEV := $(VENV)/.ready-to-develop
RECORDS := build/authorities.jsonl
SOURCES := src tests tools benchmarks
# Tests of one file stay together, in one process for each core.
SIDE_BY_SIDE := --numprocesses=logical --maxprocesses=4 --dist=loadfile

.PHONY: help setup demo test check bench docs constraints clean

help:
	@echo "make demo    the whole main job on the bundled, invented scenario, into demo-out/"
	@echo "make test    all tests"
	@echo "make check   format, lint, types, layers, schemas, pages and the wheel"
	@echo "make bench   how fast it is on this machine"
	@echo "make docs    the pages in docs/ that are made from the program and its tests"
	@echo "make setup   only the environment for all of these, in .venv"

setup: $(DEV)

demo: $(RUNTIME)
	$(BIN)/bandwright demo --out demo-out

test: $(DEV)
	$(BIN)/python -m pytest $(SIDE_BY_SIDE) --authority-records=$(RECORDS) $(PYTEST_OPTIONS)
	$(BIN)/python -m tools.make_validation --records $(RECORDS) --check

check: $(DEV)
	$(BIN)/ruff check $(SOURCES)
	$(BIN)/ruff format --check $(SOURCES)
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(if $(wildcard tools/make_schemas.py),$(BIN)/python -m tools.make_schemas --check)
	$(BIN)/python -m tools.make_commands --check
	$(BIN)/python -m tools.make_brief_reference --check
	$(BIN)/python -m tools.vendor_assets --check
	$(BIN)/python -m tools.check_pages
	$(BIN)/python -m tools.check_wheel

bench: $(DEV)
	$(BIN)/python -m benchmarks

docs: $(DEV)
	$(if $(wildcard tools/make_schemas.py),$(BIN)/python -m tools.make_schemas)
	$(BIN)/python -m tools.make_commands
	$(BIN)/python -m tools.make_brief_reference
	$(BIN)/python -m pytest -q $(SIDE_BY_SIDE) --authority-records=$(RECORDS)
	$(BIN)/python -m tools.make_validation --records $(RECORDS)

constraints:
	rm -rf build/renew
	$(PYTHON) -m venv build/renew
	build/renew/bin/python -m pip install --quiet --editable ".[dev]"
	grep '^#' constraints.txt > build/constraints.txt
	build/renew/bin/python -m pip freeze --exclude-editable >> build/constraints.txt
	mv build/constraints.txt constraints.txt
	rm -rf build/renew

clean:
	rm -rf $(VENV) build dist demo-out

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "Bandwright needs Python 3.11 or later; $(PYTHON) is older or missing."; \
	  echo "Name another one: make PYTHON=python3.12 $(MAKECMDGOALS)"; exit 2; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	  echo "This Python cannot make environments. On Debian and Ubuntu: apt install python3-venv"; exit 2; }
	$(PYTHON) -m venv $(VENV)

$(RUNTIME): pyproject.toml constraints.txt | $(BIN)/python
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable .
	@touch $@

$(DEV): pyproject.toml constraints.txt | $(BIN)/python
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable ".[dev]"
	@touch $@ $(RUNTIME)
