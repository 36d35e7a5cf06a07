# Everything lies in this folder: .venv, node_modules and .cache. No root, no system packages.
SHELL := /bin/sh
.DEFAULT_GOAL := help
.NOTPARALLEL:
BIN := .venv/bin

.PHONY: help setup run demo test long bench prove check audit locks helpers

help: ## these lines
	@sed -n 's/^\([a-z]*\):.*## /  make \1	/p' $(MAKEFILE_LIST) | expand -t 16

setup: ## put the command into .venv/bin/quietleaf
	@python=$$(scripts/find-python.sh) && "$$python" scripts/install.py runtime

run: demo ## the example station, its sample reading through the whole job, then its page
	@$(BIN)/quietleaf run

demo: setup ## the same job without the page
	@$(BIN)/quietleaf demo

test: check ## all checks and tests: at most 10 minutes
	@$(BIN)/python -m pytest -n 4 --dist loadfile --no-loadscope-reorder $(ARGS)

long: helpers ## the long tests, and the laws on many more examples
	@$(BIN)/python -m pytest tests/property --hypothesis-profile=long $(ARGS)
	@$(BIN)/python -m pytest -m long $(ARGS)

bench: helpers ## speed and memory beside general-purpose programs
	@$(BIN)/python -m bench $(ARGS)

prove: helpers ## what the hearing finds in messy sessions made with their truth
	@$(BIN)/python -m bench.proving $(ARGS)

check: helpers ## style, types, the direction of imports and licences
	@$(BIN)/ruff check
	@$(BIN)/ruff format --check
	@$(BIN)/mypy
	@$(BIN)/lint-imports --no-logo
	@$(BIN)/python scripts/make_licences.py --check

audit: helpers ## known holes of locked packages; needs a network, and says so where there is none
	@$(BIN)/python scripts/audit.py

helpers:
	@python=$$(scripts/find-python.sh) && "$$python" scripts/install.py tests

locks: helpers ## solve the lock files anew
	@scripts/lock.sh
