# make demo   builds outyard, invents an outfit and shows its morning
# make test   everything the checks of a change run, in the same order
# make docs   gathers the pages under docs/ that are put together from parts

SHELL := /bin/bash
CARGO ?= cargo
RUST := $(shell sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)
DEMO := demo
DEMO_DAY := 2026-07-03
OUTYARD := target/release/outyard
AT_DEMO := $(OUTYARD) --outfit $(DEMO) --on $(DEMO_DAY)

.PHONY: demo test docs rust
.NOTPARALLEL:

demo: rust
	$(CARGO) build --release --locked --package outyard-cli
	$(OUTYARD) --on $(DEMO_DAY) demo $(DEMO) --seed 7 --again
	$(AT_DEMO) morning
	$(AT_DEMO) sheets --to $(DEMO)/sheets
	@echo; echo "Go on: open $(DEMO)/sheets/index.html; ask $(OUTYARD) --outfit $(DEMO) --on $(DEMO_DAY) runs, outlook, yard 7, gear, or"; \
	echo "replan --rain 2026-07-04..2026-07-05; begin with your own outfit: $(OUTYARD) new --help"

test: rust
	$(CARGO) fmt --all --check
	$(CARGO) clippy --workspace --all-targets --locked -- -D warnings
	$(CARGO) test --workspace --locked
	RUSTDOCFLAGS="-D warnings" $(CARGO) doc --workspace --no-deps --locked --quiet
	$(CARGO) xtask tidy

docs: rust
	$(CARGO) xtask docs

rust:
	@command -v $(CARGO) > /dev/null || { echo "cargo is missing: install Rust $(RUST) or newer, for example with rustup" >&2; exit 1; }
	@have="$$($(CARGO) --version | cut -d ' ' -f 2)"; have="$${have%%-*}"; \
	printf '%s\n%s\n' "$(RUST)" "$$have" | sort -V -C \
	|| { echo "cargo $$have is too old: install Rust $(RUST) or newer, for example with rustup update" >&2; exit 1; }
