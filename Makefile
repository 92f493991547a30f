# Two commands do everything on a machine with Python 3.11+, git and make:
#   make demo   builds the environment and plays the wet week, morning by morning
#   make test   lints, checks types and layers, runs every test
PYTHON ?= python3
VENV   := .venv
RUN    := $(VENV)/bin
STAMP  := $(VENV)/.installed
WARM   := $(VENV)/.compiled
HOT    := $(wildcard scheduler/solver/*.py scheduler/workability/*.py)

.PHONY: demo test lint bench clean setup

setup: $(WARM)

$(STAMP): pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
	  || { echo "fitground needs Python 3.11 or newer; set PYTHON=/path/to/python3.11"; exit 1; }
	@echo "Building the environment in $(VENV) (once, a minute or two) ..."
	@$(PYTHON) -m venv $(VENV)
	@$(RUN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test]'
	@touch $(STAMP)

# The search and the soil loop are compiled once and kept beside the sources; anew when these change.
$(WARM): $(STAMP) $(HOT)
	@echo "Compiling the search and the soil loop (once, about a minute) ..."
	@find scheduler/solver -name '*.nb[ic]' -delete
	@$(RUN)/python -c 'from scheduler.solver.rigday import warm_up; warm_up()'
	@touch $(WARM)

demo: $(WARM)
	@$(RUN)/fitground replay scenarios/wet-week --out out/wet-week

lint: $(STAMP)
	$(RUN)/ruff check .
	$(RUN)/ruff format --check .
	$(RUN)/mypy

# Many tests start processes of their own; compiled once, these start in half the time. As many run beside each other as
# there are cores; those that hold a clock to the program run alone (tests/conftest.py).
test: lint $(WARM)
	@$(RUN)/python -m compileall -q shared adapters scheduler scenarios tests
	$(RUN)/python -m pytest -n logical --maxprocesses 4 --dist worksteal

bench: $(WARM)
	$(RUN)/python -m tests.benchmarks.bench_soil_water
	$(RUN)/python -m tests.benchmarks.bench_engine --fields 12 60 --seconds 2 10
	$(RUN)/python -m tests.benchmarks.bench_rules
	$(RUN)/python -m tests.benchmarks.bench_published --peer
	$(RUN)/python -m tests.benchmarks.bench_replan 5
	$(RUN)/python -m tests.benchmarks.bench_whatif
	$(RUN)/python -m tests.benchmarks.bench_pace
	$(RUN)/python -m tests.benchmarks.bench_kill
	$(RUN)/python -m tests.benchmarks.bench_service
	$(RUN)/python -m tests.benchmarks.bench_pages
	$(RUN)/python -m tests.benchmarks.bench_intake

clean:
	rm -rf out build .pytest_cache .mypy_cache .ruff_cache .hypothesis
