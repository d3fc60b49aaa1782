# Every target brings what it needs into .venv first; a second run is quick.
PORT ?= 8000
PYTHON ?= python3
CASE ?=
ONLY ?=

BOOTSTRAP = $(PYTHON) .ci/bootstrap.py
COMPILE = .venv/bin/uv pip compile --quiet --universal --generate-hashes --python-version 3.12 \
	--no-emit-index-url --no-annotate --custom-compile-command 'make lock' pyproject.toml

.DEFAULT_GOAL := help
.PHONY: help demo test lint types layers format messages lock bench clean

help: ## list these targets
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "make %-8s %s\n", $$1, $$2 }' Makefile

demo: ## make the demo and serve it (PORT=8000)
	@$(BOOTSTRAP) run .ci/demo.py --port $(PORT)

test: ## lint, types, layers and every test (ONLY="lint sqlite" for some)
	@$(BOOTSTRAP) dev .ci/test.py $(ONLY)

lint: ## ruff's rules and its format
	@$(BOOTSTRAP) dev .ci/test.py lint format

types: ## mypy, strict
	@$(BOOTSTRAP) dev .ci/test.py types

layers: ## who may import whom
	@$(BOOTSTRAP) dev .ci/test.py layers

format: ## put every file into ruff's format
	@$(BOOTSTRAP) dev
	@.venv/bin/ruff check --fix --quiet . ; .venv/bin/ruff format .

messages: ## gather every string to translate into registry/locale/django.pot
	@$(BOOTSTRAP) dev .ci/messages.py

lock: ## resolve the two locks anew (UPGRADE=1 takes newer versions)
	@$(BOOTSTRAP) dev
	@$(COMPILE) $(if $(UPGRADE),--upgrade) --group dev -o requirements-dev.txt
	@$(COMPILE) $(if $(UPGRADE),--upgrade) -c requirements-dev.txt -o requirements.txt

bench: ## measure every case, or one (CASE=name; CASE="pages --postgres")
	@$(BOOTSTRAP) dev .ci/bench.py $(CASE)

clean: ## remove .venv and what the tools left; the demo in var/ stays
	rm -rf .venv .hypothesis .import_linter_cache .mypy_cache .pytest_cache .ruff_cache test-results
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
