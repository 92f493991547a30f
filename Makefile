# Two commands do everything on a machine with Python 3.11+, git and make:
#   make demo   builds the environment and plays the wet week, morning by morning
#   make test   lints, checks types and layers, runs every test
PYTHON ?= python3
VENV   := .venv
RUN    := $(VENV)/bin
STAMP  := $(VENV)/.installed

.PHONY: demo test lint bench clean setup

setup: $(STAMP)

$(STAMP): pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
	  || { echo "fitground needs Python 3.11 or newer; set PYTHON=/path/to/python3.11"; exit 1; }
	@echo "Building the environment in $(VENV) (once, a minute or two) ..."
	@$(PYTHON) -m venv $(VENV)
	@$(RUN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test]'
	@touch $(STAMP)

demo: $(STAMP)
	@$(RUN)/fitground replay scenarios/wet-week --out out/wet-week

lint: $(STAMP)
	$(RUN)/ruff check .
	$(RUN)/ruff format --check .
	$(RUN)/mypy

test: lint
	$(RUN)/python -m pytest

bench: $(STAMP)
	$(RUN)/python -m tests.benchmarks

clean:
	rm -rf out build .pytest_cache .mypy_cache .ruff_cache .hypothesis
