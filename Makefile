# make setup   system packages and .venv; quiet when there is nothing to do (every other target calls it)
# make demo    one simulated shift, from readings to documents, in demo-out/
# make test    style check and all tests
# make bench   speed and size against the goals; writes bench.json
# make soak    the long suite: the logger killed 200 times; RUNS=20 makes it fewer, SEED=… the same moments again
# make truth   how often a verdict is wrong: a thousand random shifts; writes truth.json; SHIFTS=…, TRUTH_SEED=…, AIR=measured as you like
# make mutate  do the tests notice when the judge or the physics is made wrong? hours; SHARE=0.05 tries a twentieth; mutate.jsonl
# make lock    resolve pyproject.toml anew into requirements.lock; UPGRADE=--upgrade takes newer versions
# make clean   remove what the others made, .venv too

PYTHON ?= python3
UPGRADE ?=
RUNS ?= 200
SEED ?=
SHIFTS ?= 1000
TRUTH_SEED ?= 10000
AIR ?= invented
SHARE ?= 1
MUTATE_SEED ?= 1

.PHONY: setup demo test bench soak truth mutate lock clean

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

mutate: setup .venv-mutate
	.venv-mutate/bin/python -m tests.mutation --jobs 2 --share $(SHARE) --seed $(MUTATE_SEED)

# What only this needs gets a venv of its own, which borrows all that .venv has: the tests run against the same packages.
.venv-mutate: Makefile
	rm -rf .venv-mutate
	.venv/bin/python -m venv .venv-mutate
	cd .venv-mutate/lib/python3*/site-packages && echo ../../../../.venv/lib/python3*/site-packages >house.pth
	.venv-mutate/bin/python -m pip install --quiet --no-deps mutmut==3.8.1 libcst==1.9.0 coverage==7.17.5

# uv resolves for every platform at once and writes hashes without naming a host. It is needed here only, so it
# gets a venv of its own that is thrown away.
lock:
	@venv=$$(mktemp -d) && trap 'rm -rf "$$venv"' EXIT && \
	"$(PYTHON)" -m venv "$$venv" && \
	"$$venv/bin/python" -m pip install --quiet uv && \
	"$$venv/bin/uv" pip compile pyproject.toml --quiet --all-extras --universal --python-version 3.11 \
	    --generate-hashes --no-header --no-emit-index-url $(UPGRADE) --output-file requirements.lock

clean:
	rm -rf .venv .venv-mutate demo-out demo-board bench.json truth.json truth.pickle truth-worst.svg mutate.jsonl mutate-reach.json build dist *.egg-info .pytest_cache .ruff_cache .hypothesis
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
