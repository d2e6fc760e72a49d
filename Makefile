# make setup   system packages and .venv; quiet when there is nothing to do (every other target calls it)
# make demo    one simulated shift, from readings to documents, in demo-out/
# make test    style check and all tests
# make bench   speed and size against the goals; writes bench.json
# make soak    the long suite: the logger killed 200 times; RUNS=20 makes it fewer, SEED=… the same moments again
# make truth   how often a verdict is wrong: a thousand random shifts; writes truth.json; SHIFTS=…, TRUTH_SEED=…, AIR=measured as you like
# make lock    resolve pyproject.toml anew into requirements.lock; UPGRADE=--upgrade takes newer versions
# make clean   remove what the others made, .venv too

PYTHON ?= python3
UPGRADE ?=
RUNS ?= 200
SEED ?=
SHIFTS ?= 1000
TRUTH_SEED ?= 10000
AIR ?= invented

.PHONY: setup demo test bench soak truth lock clean

setup:
	@PYTHON="$(PYTHON)" bash .ci/setup

demo: setup
	.venv/bin/booth demo --out demo-out

test: setup
	.venv/bin/ruff check .
	.venv/bin/python -m pytest -n 2 --dist loadgroup

bench: setup
	.venv/bin/python -m tests.bench

soak: setup
	.venv/bin/python -m tests.faults.soak --runs $(RUNS) $(if $(SEED),--seed $(SEED))

truth: setup
	.venv/bin/python -m tests.truth --shifts $(SHIFTS) --seed $(TRUTH_SEED) --air $(AIR)

# uv resolves for every platform at once and writes hashes without naming a host. It is needed here only, so it
# gets a venv of its own that is thrown away.
lock:
	@venv=$$(mktemp -d) && trap 'rm -rf "$$venv"' EXIT && \
	"$(PYTHON)" -m venv "$$venv" && \
	"$$venv/bin/python" -m pip install --quiet uv && \
	"$$venv/bin/uv" pip compile pyproject.toml --quiet --all-extras --universal --python-version 3.11 \
	    --generate-hashes --no-header --no-emit-index-url $(UPGRADE) --output-file requirements.lock

clean:
	rm -rf .venv demo-out bench.json truth.json truth-worst.svg build dist *.egg-info .pytest_cache .ruff_cache .hypothesis
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
