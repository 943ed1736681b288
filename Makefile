# Two commands matter: `make demo` and `make test`. Both make .venv in this folder, install
# into it exactly what the lock files name, and are quick when that is done already.
# No system package is needed beyond Python 3.11 or newer and make.
#
#   make demo        run the main job on the invented demonstration factory
#   make test        style, types, layers and the default tests
#   make test-all    the same, then the slow tests
#   make lock        renew the lock files after a change of dependencies
#   make clean       remove .venv and everything else that was made here
#
# Another Python:  make demo PYTHON=/path/to/python3.12
# Tests at once:   make test WORKERS=4

# One thread for small matrices: two of them, on a busy machine, are ten times slower.
export OPENBLAS_NUM_THREADS = 1

SHELL := /bin/sh
VENV := .venv
BIN := $(VENV)/bin
WORKERS ?= auto
# On a terminal the installer shows its progress; in a log it keeps quiet.
QUIET := $(shell test -t 2 || echo --quiet)

# The first Python on the path that is new enough. A name that is there but cannot run,
# such as the shim of a version manager, is passed over.
NEW_ENOUGH := import sys; sys.exit(sys.version_info < (3, 11))
CANDIDATES := python3 python python3.14 python3.13 python3.12 python3.11

# A stamp is named after what was installed and where, so that a changed lock, another
# branch or a moved folder installs again and anything else does not.
key = $(shell (cat pyproject.toml $(1); pwd) | cksum | cut -d ' ' -f 1)
RUN_STAMP := $(BIN)/installed-$(call key,requirements.txt)
TEST_STAMP := $(BIN)/installed-for-tests-$(call key,requirements.txt requirements-test.txt)

.PHONY: demo test test-all install install-test lock clean

demo: $(RUN_STAMP)
	@$(BIN)/python $(BIN)/canewright demo
	@printf '\nThe commands are installed in %s. Try next:\n' '$(BIN)'
	@printf '  %s\n' '$(BIN)/canewright --help' '$(BIN)/canewright formula' \
	  '$(BIN)/canewright demo --write my-factory'

test: $(TEST_STAMP)
	$(BIN)/python -m ruff check .
	$(BIN)/python -m ruff format --check .
	$(BIN)/python -m mypy
	$(BIN)/python $(BIN)/lint-imports
	$(BIN)/python -m pytest -n $(WORKERS) --dist worksteal -m "not slow"

test-all: test
	$(BIN)/python -m pytest -n $(WORKERS) --dist worksteal -m slow

install: $(RUN_STAMP)

install-test: $(TEST_STAMP)

$(BIN)/python:
	@set -e; \
	for name in $(PYTHON) $(CANDIDATES); do \
	  if $$name -c '$(NEW_ENOUGH)' >/dev/null 2>&1; then found=$$name; break; fi; \
	  if [ "$$name" = "$(PYTHON)" ]; then \
	    echo "PYTHON=$(PYTHON) does not run, or is older than Python 3.11." >&2; exit 1; \
	  fi; \
	done; \
	if [ -z "$$found" ]; then \
	  echo "No Python 3.11 or newer was found on the path. Install one from python.org," >&2; \
	  echo "or name one: make demo PYTHON=/path/to/python3.12" >&2; exit 1; \
	fi; \
	echo "Making $(VENV) with $$($$found --version)"; \
	if $$found -c 'import ensurepip' >/dev/null 2>&1; then \
	  $$found -m venv --clear $(VENV); \
	elif $$found -m pip --version >/dev/null 2>&1; then \
	  $$found -m venv --clear --without-pip $(VENV); \
	  $$found -m pip --python $(VENV) install $(QUIET) pip; \
	else \
	  echo "$$found comes without pip. Install its venv and pip parts (on Debian and" >&2; \
	  echo "Ubuntu: python3-venv), or use a Python from python.org." >&2; exit 1; \
	fi

$(RUN_STAMP): | $(BIN)/python
	@rm -f $(BIN)/installed-*
	@echo 'Installing what requirements.txt names (once; some minutes on a slow line)'
	@$(BIN)/python -m pip install $(QUIET) --disable-pip-version-check -r requirements.txt
	@$(BIN)/python -m pip install $(QUIET) --disable-pip-version-check --no-deps -e .
	@touch $@

$(TEST_STAMP): $(RUN_STAMP)
	@rm -f $(BIN)/installed-for-tests-*
	@echo 'Installing what requirements-test.txt names (once)'
	@$(BIN)/python -m pip install $(QUIET) --disable-pip-version-check -r requirements-test.txt
	@touch $@

# `uv` is asked for by name here only; it is not needed to install or to test.
UV ?= uv
LOCK := $(UV) pip compile --quiet --universal --python-version 3.11 \
  --custom-compile-command 'make lock' pyproject.toml

lock:
	$(LOCK) --output-file requirements.txt
	$(LOCK) --extra test --constraint requirements.txt --output-file requirements-test.txt

clean:
	rm -rf $(VENV) build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis \
	  .import_linter_cache
