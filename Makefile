# Every target makes .venv when it is missing and installs into it again when pyproject.toml changed.
PYTHON ?= python3
EXTRAS ?= dev
LAB_ARGS ?=
BIN := .venv/bin
READY := .venv/ready-$(EXTRAS)

.PHONY: lab test check bench

lab: $(READY)
	$(BIN)/python -m jupyter lab $(LAB_ARGS) notebooks/00_start_here.ipynb

test: $(READY)
	$(BIN)/python -m pytest

check: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/python -m pytest

bench: $(READY)
	$(BIN)/python -m tests.bench

$(READY): pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --editable ".[$(EXTRAS)]"
	touch "$@"
