# `make demo` and `make test` set up all they need on a fresh machine: python3 with venv, and make.

PYTHON ?= python3
BIN = .venv/bin

.PHONY: demo test lowest planting sound mutations pictures timing clean

demo: .venv/demo
	$(BIN)/facade build presets/hall-cabinet.toml --out out

# A file of tests is run by one process, several files at a time.
test: .venv/test
	$(BIN)/python -m pytest -n auto --maxprocesses 4 --dist loadfile

# A quick set of tests with the lowest version of everything that pyproject.toml declares, or the lowest above it that has a wheel
# for this Python. What else those bring along is new, and may warn of their old ways.
QUICK = test_cli test_cnc_command test_paper_command test_dxf test_solids test_page_server

lowest: .venv-lowest/ready
	.venv-lowest/bin/python -m pytest -n auto --maxprocesses 4 --dist loadfile -W ignore $(QUICK:%=tests/%.py)

# Corruptions of a build that its proof must tell, and small faults of the code that the tests must notice: some minutes each.
planting: .venv/test
	$(BIN)/python tests/planting.py

sound: .venv/test
	$(BIN)/python tests/planting.py --sound

mutations: .venv/test
	$(BIN)/python tests/mutating.py

pictures: .venv/test
	$(BIN)/python tests/make_pictures.py

timing: .venv/test
	$(BIN)/python tests/timing/build.py
	$(BIN)/python tests/timing/checks.py
	$(BIN)/python tests/timing/closing.py
	$(BIN)/python tests/timing/relaxing.py
	$(BIN)/python tests/timing/paper.py --kinds
	$(BIN)/python tests/timing/cnc.py
	$(BIN)/python tests/timing/proof.py
	$(BIN)/python tests/timing/page.py

.venv/bin/python:
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "facade needs Python 3.11 or newer; this is " + sys.version.split()[0] + ". Name a newer one: make PYTHON=python3.12")'
	$(PYTHON) -m venv .venv

.venv/demo: pyproject.toml .venv/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	touch $@

# The reference package `noise` comes as source only; its values are stored for machines without a C compiler.
.venv/test: pyproject.toml .venv/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test]'
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check noise >/dev/null 2>&1 \
	  || echo "No C compiler for the reference package 'noise': the comparison runs against the values stored from it."
	touch $@ .venv/demo

.venv-lowest/ready: pyproject.toml
	rm -rf .venv-lowest
	$(PYTHON) -m venv .venv-lowest
	.venv-lowest/bin/python -m pip install --quiet --disable-pip-version-check uv
	VIRTUAL_ENV=$(CURDIR)/.venv-lowest .venv-lowest/bin/uv pip install --quiet --resolution lowest-direct \
	  --only-binary :all: --no-binary facade --no-binary euclid3 --editable '.[test]'
	touch $@

clean:
	rm -rf .venv .venv-lowest .mypy_cache .ruff_cache .hypothesis
