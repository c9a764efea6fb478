# `make` alone lists what there is. Stamps in .venv/ keep a second call quick.
SHELL := bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:

# The first Python on the path that is new enough.
PYTHON ?= $(shell for python in python3 python3.13 python3.12 python3.11; do \
	$$python -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo $$python && exit; \
	done; echo python3)
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --quiet --disable-pip-version-check --no-input
WORKERS ?= 2
# The day the example season is looked at: what the demo finds must not change with the calendar.
ON ?= 2026-11-25

SYSTEM := $(VENV)/.system-libraries
INSTALLED := $(VENV)/.installed
DEVELOPED := $(VENV)/.developed
VALIDATORS := $(VENV)/validators/.installed

.PHONY: help
help: ## List the targets
	@grep -E '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z-]+):.*## (.*)/  make \1|\2/' | column -t -s '|'

# The environment: certgen itself for the demo, the tools beside it for everything else.

$(BIN)/python:
	@PYTHON=$(PYTHON) .ci/system-libraries
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "certgen needs Python 3.11 or newer; name one: make PYTHON=python3.12 demo")'
	@$(PYTHON) -m venv $(VENV)

$(SYSTEM): .ci/system-libraries | $(BIN)/python
	@PYTHON=$(BIN)/python .ci/system-libraries
	@touch $@

$(INSTALLED): pyproject.toml .ci/requirements.txt | $(BIN)/python
	@echo "Installing certgen into $(VENV) (once; a minute or two)"
	@# All that is needed is listed. What a library asks for besides, an HTTP client, is left out on purpose.
	@$(PIP) install --no-deps --require-hashes -r .ci/requirements.txt
	@$(PIP) install --no-deps --editable .
	@touch $@

$(DEVELOPED): $(INSTALLED) .ci/requirements-dev.txt
	@echo "Installing the development tools into $(VENV) (once)"
	@$(PIP) install --no-deps --require-hashes -r .ci/requirements-dev.txt
	@touch $@

# Programs of others that judge what is written; without npm it is said, and asked again the next time.
$(VALIDATORS): .ci/validators/package-lock.json .ci/validators/install | $(BIN)/python
	@.ci/validators/install $(VENV)/validators

.PHONY: validators
validators: $(VALIDATORS) ## Install the programs of others that judge what is written

.PHONY: demo
demo: $(SYSTEM) $(INSTALLED) ## Install what is missing and print the example season's report
	@mkdir -p out
	@# Exit code 1 says that gaps were found, which the example is there to show.
	@$(BIN)/certgen report example_season --on $(ON) --out out/example_season.pdf || [ $$? -eq 1 ]
	@echo
	@echo "The traceability report of the example season:  out/example_season.pdf"
	@echo "Its records in the browser, to try things out:  cp -r example_season out/try && $(BIN)/certgen desk out/try"

.PHONY: test
test: $(SYSTEM) $(DEVELOPED) $(VALIDATORS) ## Run every test
	@# Each process begins with a run of neighbours, for which much is made only once, and takes some of the
	@# others' when it has none left.
	@$(BIN)/python -m pytest --no-header -n $(WORKERS) --dist worksteal

.PHONY: lint
lint: $(DEVELOPED) ## Check style, types, sizes, the rooms' borders and the generated pages
	@$(BIN)/ruff check --quiet
	@$(BIN)/ruff format --check --quiet
	@$(BIN)/mypy --no-error-summary
	@found=$$($(BIN)/lint-imports --no-logo) || { echo "$$found"; exit 1; }
	@$(BIN)/python .ci/limits
	@$(BIN)/python -m certgen.rules.pages --check
	@$(BIN)/python -m certgen.cli.manual --check
	@$(BIN)/python -m certgen.exchange.editing.editor_schemas --check

.PHONY: format
format: $(DEVELOPED) ## Lay the code out and mend what ruff can mend by itself
	@$(BIN)/ruff check --fix --quiet || true
	@$(BIN)/ruff format --quiet

.PHONY: docs
docs: $(DEVELOPED) ## Write the generated pages and the editors’ schemas anew
	@$(BIN)/python -m certgen.rules.pages
	@$(BIN)/python -m certgen.cli.manual
	@$(BIN)/python -m certgen.exchange.editing.editor_schemas

.PHONY: bless
bless: $(DEVELOPED) ## Accept what the writers print now as the new golden files
	@$(BIN)/python -m pytest --no-header --bless
	@git status --short tests

.PHONY: bench
bench: $(DEVELOPED) ## Measure speed and memory as ratios, taken in one run
	@$(BIN)/python tests/bench/run.py
	@$(BIN)/python tests/bench/below_a_megabyte.py
	@$(BIN)/python tests/bench/coop.py

.PHONY: proofs
proofs: $(DEVELOPED) ## Prove what traced means on thousands of seasons; takes hours
	@$(BIN)/python tests/truth/frauds.py
	@$(BIN)/python tests/truth/frauds.py --honest
	@$(BIN)/python tests/truth/frauds.py --pairs 500
	@$(BIN)/python tests/truth/metamorphic.py --seasons 20 --most 400
	@$(BIN)/python tests/truth/metamorphic.py --frauds 60 --most 60
	@$(BIN)/python tests/truth/metamorphic.py --faults 60 --most 60
	@$(BIN)/python tests/outside/test_second_engine.py --seasons 2000 --frauds --examples
	@$(BIN)/python tests/truth/run.py --seasons 10000 --faults 3 --pairs 500
	@$(BIN)/python tests/truth/suppositions.py

.PHONY: bundle
bundle: $(SYSTEM) $(DEVELOPED) ## Make a folder that runs without Python, and its archive, in dist/
	@PYTHON=$(BIN)/python .ci/system-libraries --bundle
	@$(BIN)/python .ci/bundle/build

.PHONY: bundle-test
bundle-test: $(DEVELOPED) ## Run the bundle in a root without Python, Pango or fonts
	@$(BIN)/python .ci/bundle/try

.PHONY: licences
licences: $(INSTALLED) ## List the licences of everything that certgen installs
	@$(BIN)/python .ci/licences

.PHONY: sbom
sbom: $(INSTALLED) ## Write the bill of materials (SPDX) to out/
	@$(BIN)/python .ci/licences --spdx out/sbom.spdx.json

.PHONY: lock
lock: $(DEVELOPED) ## Choose the newest versions of all dependencies and write them down with hashes
	@.ci/lock

.PHONY: clean
clean: ## Remove what was built, and the environment
	@rm -rf $(VENV) out build dist .mypy_cache .pytest_cache .ruff_cache .import_linter_cache .hypothesis
	@find . -name __pycache__ -type d -prune -exec rm -rf {} +
