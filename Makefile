# Every chore is one word. Only python3 (3.11 to 3.13, with venv) and make are needed; the rest is installed into
# .venv from the locks, and a second run installs nothing while the locks are the same.

PYTHON ?= python3
ARGS ?=
VENV := .venv
BIN := $(VENV)/bin
export COLUMNS ?= 120
# Without compiled files every start of every process compiles the libraries again.
unexport PYTHONDONTWRITEBYTECODE

.DEFAULT_GOAL := help
.PHONY: help demo test looks bench reliability evaluate month lint fmt texts lock compose-test compose-env clean

help: ## List the chores
	@awk -F ':.*## ' '/^[a-z-]+:.*## / {printf "  make %-13s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

demo: $(VENV)/.runtime ## Everything on this machine with simulated rooms: make demo ARGS="--port 8010 --rooms 40"
	@exec $(BIN)/wickwatch demo $(ARGS)

test: parts ## Unit, published, integration and browser tests on real servers
	@exec $(BIN)/python -m pytest -n $$(($$(nproc) + 1)) --dist worksteal --ignore tests/browser/test_every_look.py $(ARGS)

looks: parts ## Every page by axe on a phone by day and at a desk by night, and without scripts
	@exec $(BIN)/python -m pytest -n $$(($$(nproc) + 1)) tests/browser/test_every_look.py $(ARGS)

reliability: parts ## Slow tests that kill processes and servers while readings flow
	@exec $(BIN)/python -m pytest tests/reliability --timeout 900 $(ARGS)

bench: parts ## Measure throughput, sweeps and pages; prints the table kept in deploy/benchmarks.md
	@exec $(BIN)/python -m tests.benchmarks $(ARGS)

evaluate: $(VENV)/.dev ## How well the detectors judge simulated rooms: make evaluate ARGS="--part reporting --out deploy/evaluation.md"
	@exec $(BIN)/python -m tests.evaluation $(ARGS)

month: $(VENV)/.dev ## How often people are called for one true cause in a simulated month of a hundred rooms
	@exec $(BIN)/python -m tests.evaluation.month $(ARGS)

lint: $(VENV)/.dev ## Style, format, types and the direction of imports
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports --no-logo

fmt: $(VENV)/.dev ## Format the code and sort imports
	@$(BIN)/ruff check --fix .
	@$(BIN)/ruff format .


# Texts are taken from here; catalogues lie in $(CATALOGUES) as they are written by translators.
SOURCE = services/wickwatch
CATALOGUES = $(SOURCE)/texts/catalogues

texts: $(VENV)/.dev ## Take texts from the source into every catalogue, or begin one: make texts ARGS=fr
	@for name in $(ARGS); do test ! -e $(CATALOGUES)/$$name.po || { \
		echo "$(CATALOGUES)/$$name.po is there: make texts, without its name, takes new texts into it" >&2; exit 1; }; done
	@mkdir -p build
	@cd $(SOURCE) && $(CURDIR)/$(BIN)/pybabel -q extract -F texts/babel.cfg --add-location=file --no-wrap --sort-by-file \
		-c "For translators:" --strip-comments --project Wickwatch --omit-header -o $(CURDIR)/build/texts.pot .
	@for name in $(ARGS); do $(BIN)/pybabel -q init -i build/texts.pot -o $(CATALOGUES)/$$name.po -l $$name --no-wrap \
		|| exit 1; done
	@for po in $(CATALOGUES)/*.po; do $(BIN)/pybabel -q update -i build/texts.pot -o $$po -l $$(basename $$po .po) \
		--no-wrap --no-fuzzy-matching --ignore-obsolete --ignore-pot-creation-date; done

lock: $(BIN)/uv ## Compile the locks again: make lock ARGS=--upgrade takes newer versions
	@$(COMPILE) pyproject.toml -o requirements.txt > /dev/null
	@$(COMPILE) --extra dev -c requirements.txt pyproject.toml -o requirements-dev.txt > /dev/null
	@$(COMPILE) -c requirements-dev.txt requirements-build.in -o requirements-build.txt > /dev/null
	@wc -l requirements*.txt

compose-env: ## Write .env with fresh secrets for docker-compose.yml, unless it is there
	@deploy/compose-env.sh

compose-test: ## Build and start docker-compose.yml for real, find a reading through the API, and again in a restored backup
	@deploy/compose-test.sh

clean: ## Remove the environment and caches; the state of a demo (.wickwatch) stays
	@rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache dist build
	@find services simulator tests -name __pycache__ -type d -prune -exec rm -rf {} +

# Not chores: what they stand on.

.PHONY: parts
parts: $(VENV)/.dev
	@$(BIN)/python -m tests.parts

# uv installs in seconds what pip needs a minute for. Where it cannot reach what pip can, pip does it.
define install
	@$(BIN)/uv pip install -q --no-config --python $(BIN)/python --require-hashes --only-binary :all: \
		--compile-bytecode -r $(1) || $(BIN)/python -m pip install -qq --require-hashes --only-binary :all: -r $(1)
	@$(BIN)/uv pip install -q --no-config --python $(BIN)/python --no-deps --no-build-isolation -e .
	@touch $@
endef

$(VENV)/.runtime: requirements.txt pyproject.toml $(BIN)/uv
	@echo "Installing what Wickwatch needs into $(VENV) (once)"
	$(call install,requirements.txt)

$(VENV)/.dev: requirements-dev.txt pyproject.toml $(BIN)/uv
	@echo "Installing what the tests and checks need into $(VENV) (once)"
	$(call install,requirements-dev.txt)

$(BIN)/uv: requirements-build.txt
	@$(PYTHON) -c 'import sys; sys.exit(0 if (3, 11) <= sys.version_info < (3, 14) else \
		f"Python {sys.version.split()[0]} will not do; Wickwatch runs on 3.11 to 3.13: make PYTHON=python3.13 …")'
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install -qq --disable-pip-version-check --require-hashes --only-binary :all: -r $<
	@touch $@

# Hashes are of the packages as published. No index and no link to a folder of this machine may get into a lock.
COMPILE = env -u PIP_FIND_LINKS -u UV_FIND_LINKS $(BIN)/uv pip compile -q --no-config --universal --python-version 3.11 \
	--generate-hashes --no-emit-index-url --no-emit-find-links --no-header --no-annotate $(ARGS)
