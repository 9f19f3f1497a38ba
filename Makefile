# make demo   builds outyard, invents an outfit and shows its morning
# make test   everything the checks of a change run, in the same order
# make web    builds the page of desk, phone and paper, which the next build of outyard takes in (wants Node)
# make e2e    tries it in a real Chromium (wants Node and Chromium), with pictures of every screen
# make docs   gathers the pages under docs/ that are put together from parts

SHELL := /bin/bash
CARGO ?= cargo
RUST := $(shell sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)
DEMO := demo
DEMO_DAY := 2026-07-03
OUTYARD := target/release/outyard
AT_DEMO := $(OUTYARD) --outfit $(DEMO) --on $(DEMO_DAY)

.PHONY: demo test docs rust node page web web-test e2e chromium
.NOTPARALLEL:

demo: rust page
	$(CARGO) build --release --locked --package outyard-cli
	$(OUTYARD) --on $(DEMO_DAY) demo $(DEMO) --seed 7 --again
	$(AT_DEMO) morning
	$(AT_DEMO) sheets --to $(DEMO)/sheets
	@echo; echo "Go on: open $(DEMO)/sheets/index.html; ask $(OUTYARD) --outfit $(DEMO) --on $(DEMO_DAY) runs, outlook, yard 7, gear, or"; \
	echo "replan --rain 2026-07-04..2026-07-05; begin with your own outfit: $(OUTYARD) new --help"

test: rust page
	$(CARGO) fmt --all --check
	$(CARGO) clippy --workspace --all-targets --locked -- -D warnings
	$(CARGO) test --workspace --locked
	RUSTDOCFLAGS="-D warnings" $(CARGO) doc --workspace --no-deps --locked --quiet
	$(CARGO) xtask tidy
	@if ! $(MAKE) --no-print-directory -s node 2> /dev/null; \
	then echo "no Node 20.19, 22.12 or newer: the tests of web/ are left out" >&2; \
	else $(MAKE) --no-print-directory web-test && \
	if $(MAKE) --no-print-directory -s chromium 2> /dev/null; then $(MAKE) --no-print-directory e2e; \
	else echo "no Chromium, and none could be installed: the tests in a browser are left out" >&2; fi; fi

WEB_SOURCES := $(shell git ls-files web/src web/public 2> /dev/null) web/index.html web/vite.config.ts web/package.json web/hand-over.mjs
WEB_STAMP := web/node_modules/.outyard-stamp

web: crates/server/page/index.html

# The page, where Node stands ready to build it; the program does without, and says so when it is opened.
page:
	@if ! $(MAKE) --no-print-directory -s node 2> /dev/null; \
	then echo "no Node 20.19, 22.12 or newer: outyard is built without its page" >&2; \
	elif ! $(MAKE) --no-print-directory web; \
	then echo "the page could not be built (see above): outyard is built without it" >&2; fi

$(WEB_STAMP): web/package-lock.json
	@$(MAKE) --no-print-directory -s node
	cd web && npm ci --no-fund --no-audit
	@touch $@

web/dist/index.html: $(WEB_STAMP) $(WEB_SOURCES)
	cd web && npm run build

crates/server/page/index.html: web/dist/index.html
	node web/hand-over.mjs

web-test: $(WEB_STAMP)
	cd web && npm run check && npm test

e2e: web/dist/index.html chromium
	@[ -x target/release/outyard ] || [ -x target/debug/outyard ] || $(CARGO) build --locked --package outyard-cli
	cd web && npm run e2e

# A Chromium to test with and what reads its PDF files; installed where that can be done without asking.
chromium:
	@found() { command -v chromium > /dev/null && command -v pdftotext > /dev/null; }; \
	found || { [ "$$(id -u)" = 0 ] && command -v apt-get > /dev/null \
	&& { timeout 60 apt-get update && timeout 300 env DEBIAN_FRONTEND=noninteractive \
	apt-get install --yes --no-install-recommends chromium poppler-utils; } > /dev/null 2>&1 && found; } \
	|| { echo "chromium or pdftotext is missing: apt-get install chromium poppler-utils" >&2; exit 1; }

node:
	@command -v node > /dev/null && command -v npm > /dev/null || { echo "Node is missing: install Node 20.19, 22.12 or newer with npm" >&2; exit 1; }
	@node -e 'const [a, b] = process.versions.node.split(".").map(Number); process.exit((a === 20 && b >= 19) || (a === 22 && b >= 12) || a > 22 ? 0 : 1)' \
	|| { echo "Node $$(node --version) is too old: install Node 20.19, 22.12 or newer" >&2; exit 1; }

docs: rust
	$(CARGO) xtask docs

rust:
	@command -v $(CARGO) > /dev/null || { echo "cargo is missing: install Rust $(RUST) or newer, for example with rustup" >&2; exit 1; }
	@have="$$($(CARGO) --version | cut -d ' ' -f 2)"; have="$${have%%-*}"; \
	printf '%s\n%s\n' "$(RUST)" "$$have" | sort -V -C \
	|| { echo "cargo $$have is too old: install Rust $(RUST) or newer, for example with rustup update" >&2; exit 1; }
