# `make help` lists what there is. Every target sets up what it needs, once.

VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
BENCHMARKS = $(sort $(wildcard benchmarks/bench_*.py))

.DEFAULT_GOAL := help
.PHONY: help demo test verify lint format bench checks lock clean

help: ## what this file can do
	@sed -n 's/^\([a-z]*\):.*## \(.*\)/make \1|\2/p' Makefile | while IFS='|' read -r target words; \
		do printf '  %-12s %s\n' "$$target" "$$words"; done

# Only a changed set-up, list of dependencies or lock sets anything up again.
$(READY): pyproject.toml .ci/constraints.txt .ci/setup.sh
	@.ci/setup.sh

demo: $(READY) ## compare the arrester choices of the demo installation
	$(BIN)/surgesim compare scenarios/brackenmoss-dairy.yaml --out demo-output --overwrite

test: $(READY) ## the tests, without the slow ones
	$(BIN)/python -m pytest -m "not slow" --numprocesses 2 --dist loadfile

verify: $(READY) ## the slow checks
	$(BIN)/python -m pytest -m slow --numprocesses 2 --dist loadgroup

lint: $(READY) ## style, types, and the one-way flow of imports
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	$(BIN)/lint-imports

format: $(READY) ## lay out the source the way lint wants it
	$(BIN)/ruff check --fix
	$(BIN)/ruff format

bench: $(READY) ## the benchmarks, each a script that prints its table
	@[ -n "$(BENCHMARKS)" ] || { echo "no benchmarks/bench_*.py" >&2; exit 1; }
	@for script in $(BENCHMARKS); do $(BIN)/python "$$script" || exit 1; done

checks: $(READY) ## rewrite docs/checks.md, the README's table and docs/mutants.md
	$(BIN)/python -m tests.verification
	$(BIN)/python -m tests.mutants

lock: ## renew .ci/constraints.txt with today's versions
	@.ci/lock.sh

clean: ## remove what the other targets made, except the virtual environment
	rm -rf build dist demo-output out .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache
	find . -path ./$(VENV) -prune -o -name __pycache__ -type d -exec rm -rf {} +
