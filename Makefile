# Everything a fresh machine needs, in two commands: `make demo` runs the main
# job and opens the result, `make test` passes all tests.

GO      ?= go
BIN     := bin/gaitwright
VERSION := $(shell git describe --tags --always --dirty 2>/dev/null || echo unversioned)
LDFLAGS := -s -w -X main.version=$(VERSION)
export CGO_ENABLED = 0
# The same for all that is built and tested, so that nothing is compiled twice.
export GOFLAGS = -trimpath

.PHONY: demo test build setup setup-tests check cross bench ui ui-check clean

demo: build setup
	$(BIN) demo --open

build:
	$(GO) build -ldflags '$(LDFLAGS)' -o $(BIN) ./cmd/gaitwright

setup:
	sh setup/install.sh

setup-tests:
	sh setup/install.sh --tests

test: build setup-tests
	sh setup/test.sh

check: build
	$(BIN) check

cross:
	sh setup/cross.sh

bench:
	$(GO) test -run '^$$' -bench . -benchtime 1x ./...

ui: ui/node_modules/.installed
	cd ui && npm run build

ui/node_modules/.installed: ui/package-lock.json
	cd ui && npm ci --ignore-scripts --no-audit --no-fund
	touch $@

ui-check: ui
	git diff --exit-code -- ui/dist

clean:
	rm -rf bin build
