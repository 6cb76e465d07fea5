# For a newcomer: make run, make test. For a developer: make check, make bench, make docs, make lock.
# Written for GNU make 3.81 (what macOS ships) and later.

# The first Python on the path that is new enough. To use another: make PYTHON=/path/to/python3 run
PYTHON ?= $(shell for python in python3 python3.14 python3.13 python3.12 python3.11; do \
	$$python -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo $$python && break; done)

VENV := .venv
BIN := $(VENV)/bin
INSTALL := $(BIN)/python -m pip --disable-pip-version-check --no-input --quiet install
EXAMPLE := examples/garden-cottage-green-on-common.job.yaml
WORKERS ?= 2

.DEFAULT_GOAL := help
.PHONY: help run test check audit format bench docs lock dist clean ngspice chromium .venv

help:
	@echo 'make run     build .venv and prove an example job'
	@echo 'make test    install what the tests need and run them'
	@echo 'make check   formatting, lint, types, import layers, make audit'
	@echo 'make audit   known vulnerabilities of what is pinned'
	@echo 'make format  put the code into the form that make check wants'
	@echo 'make bench   measure speed and memory into build/bench.json'
	@echo 'make docs    write the generated pages of docs/ anew'
	@echo 'make lock    pin requirements/*.in into requirements/*.txt'
	@echo 'make dist    build the wheel and the source archive into dist/'
	@echo 'make clean   remove .venv and everything built'

# Exit status 1 means that the job has findings, which is what there is to see; 2 and up is a failure.
run: $(VENV)/.run
	@$(BIN)/callpath prove $(EXAMPLE) || test $$? -eq 1

test: $(VENV)/.test ngspice chromium
	$(BIN)/python -m pytest -n $(WORKERS)

check: $(VENV)/.dev audit
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

# Fails on a vulnerability that is known; what the advisory service does not know is counted on one line.
audit: $(VENV)/.dev
	@$(BIN)/pip-audit --require-hashes --disable-pip --progress-spinner off \
		$(foreach name,run build test dev,-r requirements/$(name).txt) >$(VENV)/audit.txt 2>&1; status=$$?; \
	awk '/could not be audited/ { missed++; next } /^Name +Skip Reason/ || /^-+ -+ *$$/ || !NF { next } { print } \
		END { if (missed) print missed " packages could not be looked up: the advisory service does not know them" }' \
		$(VENV)/audit.txt; exit $$status

format: $(VENV)/.dev
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

bench: $(VENV)/.test ngspice
	@mkdir -p build
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m benchmarks.run build/bench.json

docs: $(VENV)/.run
	$(BIN)/python docs/generate.py

# In this order, because each file takes the pins of those before it. To move to newer releases: make lock UPGRADE=--upgrade
lock: $(VENV)/.dev
	for name in run build test dev; do \
		$(BIN)/pip-compile --quiet --strip-extras --generate-hashes --allow-unsafe --no-header \
			--no-emit-index-url --no-emit-trusted-host --no-emit-find-links --no-emit-options $(UPGRADE) \
			--output-file requirements/$$name.txt requirements/$$name.in || exit 1; \
	done

dist: $(VENV)/.dev
	$(BIN)/python -m build --no-isolation --outdir dist

clean:
	rm -rf $(VENV) build dist .mypy_cache .pytest_cache .ruff_cache .import_linter_cache .hypothesis
	find src tests benchmarks docs -name __pycache__ -type d -prune -exec rm -rf {} + 2>/dev/null || true

# ---- the virtual environment: one stamp for each step, so that what is up to date costs nothing ----

.venv: $(VENV)/.dev

$(VENV)/.made:
	@test -n "$(PYTHON)" || { echo 'callpath needs Python 3.11 or later, and none is on the path.' >&2; \
		echo 'Install one, or name it: make PYTHON=/path/to/python3 ...' >&2; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
		echo 'callpath needs Python 3.11 or later; $(PYTHON) is not.' >&2; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
		echo 'This Python cannot make virtual environments: Debian and Ubuntu keep that in a package of its own.' >&2; \
		echo 'Install it, then try again:  sudo apt-get install python3-venv' >&2; exit 1; }
	@echo 'Making $(VENV) and installing what callpath needs: a minute, the first time.'
	@$(PYTHON) -m venv --clear $(VENV)
	@touch $@

$(VENV)/.run: $(VENV)/.made requirements/run.txt requirements/build.txt pyproject.toml
	@$(INSTALL) --require-hashes -r requirements/run.txt
	@$(INSTALL) --require-hashes -r requirements/build.txt
	@$(INSTALL) --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.test: $(VENV)/.run requirements/test.txt
	@$(INSTALL) --require-hashes -r requirements/test.txt
	@touch $@

$(VENV)/.dev: $(VENV)/.test requirements/dev.txt
	@$(INSTALL) --require-hashes -r requirements/dev.txt
	@touch $@

# The tests compare every circuit with ngspice; without it they must fail, not be passed over.
ngspice:
	@command -v ngspice >/dev/null && exit 0; \
	if command -v apt-get >/dev/null && test "$$(id -u)" -eq 0; then \
		echo 'Installing ngspice, which the tests compare with.'; \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq ngspice >/dev/null; \
	else \
		echo 'The tests compare with ngspice, and it is not on the path. Install it, then try again:' >&2; \
		echo '  Debian, Ubuntu:  sudo apt-get install ngspice' >&2; \
		echo '  macOS:           brew install ngspice' >&2; \
		exit 1; \
	fi

# The tests open the page in a real browser; without one they must fail, not be passed over.
chromium:
	@command -v chromium >/dev/null || command -v chromium-browser >/dev/null || command -v google-chrome >/dev/null && exit 0; \
	if command -v apt-get >/dev/null && test "$$(id -u)" -eq 0; then \
		echo 'Installing Chromium, in which the tests open the page.'; \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
			chromium fonts-dejavu-core >/dev/null; \
	else \
		echo 'The tests open the page in Chromium, and it is not on the path. Install it, then try again:' >&2; \
		echo '  Debian, Ubuntu:  sudo apt-get install chromium' >&2; \
		exit 1; \
	fi
